"""Every refusal of the hand-over, each with advice: the cause, then the next step.

Messages hold no patient details and no key; parts are attributes.
"""

from exam_app.domain.errors import ExamError
from exam_app.language.catalogue import to_translate, tr


class SyncError(ExamError):
    """Something that was handed over cannot be used, or cannot be handed over."""

    advice = to_translate(
        "This hand-over cannot be used. Nothing was changed. "
        "Hand over again from the device that made it."
    )

    def __init__(self, reason: str = "") -> None:
        """Keep the plain reason in ``reason``."""
        super().__init__(reason)
        self.reason = reason


class NotABundleError(SyncError):
    """The bytes are no hand-over, cut off, or changed on the way."""

    advice = to_translate(
        "This is no hand-over, or a damaged one. Nothing was taken from it. "
        "Show the codes again, or copy the file again."
    )


class BundleTooNewError(SyncError):
    """A newer version of this program made the bundle."""

    advice = to_translate(
        "A newer version of this program made this hand-over. Nothing was read, "
        "so that nothing is missed. Update this program, then receive it again."
    )


class BundleTooLargeError(SyncError):
    """The bundle, or what it unpacks to, passes a limit."""

    advice = to_translate(
        "This hand-over is larger than one can be. Nothing was taken from it. "
        "Hand over fewer exams at once, or ask the sender what this is."
    )


class WrongRecipientError(SyncError):
    """The bundle is meant for somebody else."""

    advice = to_translate(
        "This hand-over is meant for another computer. It was not read. "
        "Give it to the one it was made for, or pair the device with this one."
    )


class UnknownDeviceError(SyncError):
    """The bundle was signed by a device that is not paired here."""

    advice = to_translate(
        "This hand-over comes from a device that is not paired here. "
        "Nothing was taken from it. Pair the device first, then receive it again."
    )


class BadManifestError(SyncError):
    """What the bundle holds is not what its sender signed for this recipient."""

    advice = to_translate(
        "This hand-over does not hold what its sender signed. Nothing was taken "
        "from it. Do not trust whoever gave it to you; hand over again directly."
    )


class DemoRefusedError(SyncError):
    """Invented records were offered to a real clinic, or real ones to a demo."""

    advice = to_translate(
        "Invented demo records and real ones never meet. Nothing was taken. "
        "Use a demo device with a demo clinic only."
    )


class RevokedDeviceError(SyncError):
    """The bundle was made after the device was revoked; it goes to quarantine."""

    advice = to_translate(
        "This device was revoked before it made this hand-over. It is set aside "
        "and not among the records. Ask a person who knows to look at it."
    )


class BundleNotMadeError(SyncError):
    """The contents have no place in a bundle."""

    advice = to_translate(
        "Something chosen cannot be handed over. Nothing was sent. "
        "Hand over the exams one by one to find which, then report it."
    )


class NotAFrameError(SyncError):
    """A code that was read is no frame of a hand-over."""

    advice = to_translate(
        "This code is no part of a hand-over. It was ignored. "
        "Point the camera at the codes on the device's hand-over screen."
    )


class FolderError(SyncError):
    """The shared folder cannot be reached, read or written."""

    advice = to_translate(
        "The folder cannot be used now. Nothing was lost. "
        "Check that the stick or the shared folder is there, then try again."
    )


class CardError(SyncError):
    """A pairing card that cannot be used."""

    advice = to_translate(
        "This pairing card cannot be used. Nothing was paired. "
        "Show a new card at the clinic and start again."
    )


class NotACardError(CardError):
    """The bytes or the text are no pairing card, or only a part of one."""

    advice = to_translate(
        "This is no pairing card, or only a part of one. Nothing was paired. "
        "Scan or paste the whole card again."
    )


class CardExpiredError(CardError):
    """The card's ten minutes are over, or the two clocks differ."""

    advice = to_translate(
        "This pairing card is no longer valid. Nothing was paired. "
        "Show a new card at the clinic; if it fails again, compare both clocks."
    )


class CardSubstitutedError(CardError):
    """The answer belongs to another card than the one that was shown."""

    advice = to_translate(
        "This answer belongs to another pairing card. Nothing was paired. "
        "Make sure nobody exchanged the card, then start again with a new one."
    )


class OlderCardError(CardError):
    """An older version wrote the card, whose words are easier to imitate."""

    advice = to_translate(
        "An older version of this program wrote this pairing card. Nothing was paired. "
        "Update the program on both computers, then start again with a new card."
    )


class KnownDeviceKeyError(CardError):
    """A card claims the id or the key of a known device without proof of it."""

    advice = to_translate(
        "This card claims to be a device or clinic that is known here, with other "
        "keys. Nothing was paired or changed. Do not trust whoever gave it to you; a "
        "device that was set up anew pairs under a new identity of its own."
    )


class RevokedPairingError(CardError):
    """A device that a person ended the trust in is to be paired again."""

    advice = to_translate(
        "This device, or one it was restored from, is trusted no more. Nothing was "
        "paired or changed. Say on the screen that it is to be trusted again, or no."
    )


class ReceiptError(SyncError):
    """A receipt that cannot be used."""

    advice = to_translate(
        "This receipt cannot be used. The exams stay on this device. "
        "Ask the clinic for the receipt again."
    )


class NotAReceiptError(ReceiptError):
    """The bytes are no receipt, or one of no bundle that is known here."""

    advice = to_translate(
        "This is no receipt for this device, or only a part of one. "
        "Nothing was changed. Scan it again, or ask the clinic for it again."
    )


class ReceiptForgedError(ReceiptError):
    """The receipt was not signed by the paired clinic, or was changed."""

    advice = to_translate(
        "The clinic this device is paired with did not sign this receipt. "
        "The exams stay on this device. Ask the clinic for the receipt directly."
    )


class WrongReceiptCodeError(ReceiptError):
    """The receipt code that was typed is not the right one."""

    advice = to_translate(
        "This is not the code for this hand-over. The exams stay on this device. "
        "Compare it with the clinic's screen and type it again."
    )

    def __init__(self, tries_left: int = 0, reason: str = "") -> None:
        """Keep how many more codes may be typed for this bundle."""
        super().__init__(reason or tr("{tries_left} tries left", tries_left=tries_left))
        self.tries_left = tries_left


class MistypedReceiptCodeError(WrongReceiptCodeError):
    """The code cannot be any code: a slip while typing, which costs no try."""

    advice = to_translate(
        "This is no receipt code: a character is wrong, missing or swapped. "
        "Nothing was changed and no try was used. Type all eight again."
    )
