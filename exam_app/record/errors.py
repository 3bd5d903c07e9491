"""Every refusal of a record or draft, each with advice: the cause, then the next step.

Messages hold no patient details; parts are attributes.
"""

from exam_app.domain.errors import ExamError
from exam_app.language.catalogue import to_translate, tr


class RecordError(ExamError):
    """A record or a draft that cannot be read or written."""

    advice = to_translate(
        "This record cannot be read. Nothing was changed. "
        "Ask for it again from the device that made it."
    )

    def __init__(self, reason: str = "") -> None:
        """Keep the plain reason in ``reason``."""
        super().__init__(reason)
        self.reason = reason


class NotARecordError(RecordError):
    """The bytes are no record: cut off, changed, or something else altogether."""

    advice = to_translate(
        "These bytes are no exam record, or only a part of one. Nothing was kept. "
        "Fetch the record again from the device that made it."
    )


class RecordTooLargeError(RecordError):
    """The record is larger or more deeply nested than any exam needs."""

    advice = to_translate(
        "This record is larger than an exam can be. Nothing was kept. "
        "Shorten the longest texts, or ask the sender what this is."
    )


class RecordTooNewError(RecordError):
    """The record was written by a newer version of this program."""

    advice = to_translate(
        "A newer version of this program wrote this record. Nothing was read, "
        "so that nothing is missed. Update this program, then open it again."
    )


class UnknownDeviceKeyError(RecordError):
    """No device known here has the key that is said to have signed this."""

    advice = to_translate(
        "This record was signed by a device that is not known here. "
        "It was not read. Pair that device first, then open the record again."
    )

    def __init__(self, key_id: bytes) -> None:
        """Keep the 16-byte key id in ``key_id``."""
        super().__init__(key_id.hex())
        self.key_id = key_id


class BadSignatureError(RecordError):
    """The signature does not fit the bytes: they were changed after signing."""

    advice = to_translate(
        "This record was changed after it was signed, or damaged on the way. "
        "It was not read. Fetch it again from the device that made it."
    )


class WrongKindError(RecordError):
    """A signed object of one kind stands where another is expected."""

    advice = to_translate(
        "This is signed, but it is not what belongs here. Nothing was kept. "
        "Open an exam as an exam and a note as a note."
    )


class ExamNotClosedError(RecordError):
    """Only a closed exam is signed."""

    advice = to_translate(
        "This exam is still open, so it cannot be signed. Nothing was changed. "
        "Answer what is open, or stop early with a reason, then close it."
    )


class ProtocolNotKeptError(RecordError):
    """The record's sentences stand in a protocol that is not kept here."""

    advice = to_translate(
        "The wording of this record stands in a species protocol that is not kept "
        "here. The record itself is unharmed. Fetch that protocol, then open it."
    )

    def __init__(self, protocol_hash: str) -> None:
        """Keep the protocol's content hash, in hex, in ``protocol_hash``."""
        super().__init__(protocol_hash)
        self.protocol_hash = protocol_hash


class WordingChangedError(RecordError):
    """The protocol restores other words than were shown when this was signed."""

    advice = to_translate(
        "The species protocol kept here restores other words than were signed. "
        "The record is not shown. Replace the protocol by the one it names."
    )


class CannotBeWrittenError(RecordError):
    """A text or number that a record cannot hold."""

    advice = to_translate(
        "Something in this exam cannot be written into a record. Nothing was signed. "
        "Look for broken characters or an impossible number, and correct it."
    )


class DraftDamagedError(RecordError):
    """A stored draft, animal, person or owner does not have the shape it must have.

    Attributes:
        problems: Every fault with its path, at least one.
    """

    advice = to_translate(
        "A stored entry is damaged and was not opened. Nothing was changed. "
        "Keep a copy of the vault, and restore the last good one."
    )

    def __init__(self, problems: tuple[str, ...]) -> None:
        """Keep every fault in ``problems``."""
        super().__init__(tr("{count} faults", count=len(problems)))
        self.problems = problems


class NotAPhotographError(RecordError):
    """Bytes are no prepared photograph, or hold more than a picture."""

    advice = to_translate(
        "This is no photograph as the app prepares one, so it was not kept. Nothing "
        "else is concerned. Take or choose the photograph again."
    )
