"""What surrounds the exam: why it came, intake, what was given, sampled, planned.

The record has its room for all of this from version 1, whether or not a screen asks.
Facts are kept as told, read or typed; nothing here is computed.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from exam_app.domain.exam.people import Attribution
from exam_app.domain.moments import Moment
from exam_app.language.catalogue import tr

INTAKE_SLOT = "intake"
SCAN_SLOTS = (INTAKE_SLOT, "later day", "before release")


@dataclass(frozen=True, slots=True)
class Presentation:
    """Who brings the animal, why, and what they consent to."""

    presented_by: str = ""
    complaint: str = ""
    history: str = ""
    consent_to: str = ""
    consent_by: str = ""
    consent_how: str = ""


@dataclass(frozen=True, slots=True)
class GroupFacts:
    """What is known of a group of animals: counts, and how those seen were chosen.

    Attributes:
        present, examined, affected, dead: Numbers of animals; ``None`` when not said.
        chosen: How the animals looked at were chosen, in words.
        feed, housing: As seen or told.
    """

    present: int | None = None
    examined: int | None = None
    affected: int | None = None
    dead: int | None = None
    chosen: str = ""
    feed: str = ""
    housing: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class ChipScan:
    """One scan; empty ``numbers`` mean none found on this scan.

    Attributes:
        slot: One of ``SCAN_SLOTS``.
        passes: How often the animal was gone over; 0 when it was not said.
        not_done: Why this scan was not made; then nothing else is claimed.
    """

    slot: str
    numbers: tuple[str, ...]
    passes: int
    scanner: str
    attribution: Attribution
    not_done: str = ""


@dataclass(frozen=True, slots=True)
class Bitten:
    """One bite or scratch as one block: nothing of it belongs to another person.

    Attributes:
        who: The person or animal, or where on the examiner; empty where nobody said
            of whom the rest was told.
        when: As told or typed; a date and a time, where they are known.
        first_aid: What that person did at once.
        name: Who of the examiners it was.
        told: Who was told of this bite.
        is_examiner: Whether it is a bite of whoever examined.
    """

    who: str = ""
    when: str = ""
    first_aid: str = ""
    name: str = ""
    told: str = ""
    is_examiner: bool = False

    def __bool__(self) -> bool:
        """Whether anything is said."""
        return any((self.who, self.when, self.first_aid, self.name, self.told))

    @property
    def whose(self) -> str:
        """Name the one bitten, as in "the examiner (left thumb)"."""
        if not self.is_examiner:
            return self.who or "not said whose"
        return f"the examiner ({self.who})" if self.who else "the examiner"

    @property
    def is_dated(self) -> bool:
        """Whether the time holds a date and a clock time, or says what is not known."""
        is_timed = _TIME_OF_DAY.search(self.when) and _DATE.search(self.when)
        return bool(is_timed or "not known" in self.when.lower())


@dataclass(frozen=True, slots=True)
class BiteHistory:
    """Bite, scratch and rabies facts, as told or read from a certificate.

    Attributes:
        bit_or_scratched: Whom the animal bit or scratched in the last ten days;
            ``when`` and ``first_aid`` are that person's.
        examiner_bitten: Bite or scratch of the examiner; ``examiner_when``,
            ``examiner_name`` and ``washed`` belong to it and to nobody else.
        reported: To whom a bite was reported.
        rabies_concern: What else makes one think of rabies, in words.
        bitten: Every block, where the texts before it cannot hold them apart; they
            then say the same for readers that know no blocks.
    """

    bit_or_scratched: str = ""
    when: str = ""
    rabies_vaccine: str = ""
    quarantine: str = ""
    examiner_bitten: str = ""
    washed: str = ""
    reported: str = ""
    examiner_when: str = ""
    rabies_concern: str = ""
    first_aid: str = ""
    examiner_name: str = ""
    bitten: tuple[Bitten, ...] = ()

    def with_blocks(self, blocks: tuple[Bitten, ...]) -> "BiteHistory":
        """Return the same with these bites and no others."""
        texts, before = _texts_of(blocks), self.told_of_either
        told = "" if texts["reported"] in before else texts["reported"]
        texts["reported"] = "; ".join(filter(None, (before, told)))
        changed: dict[str, Any] = {**texts, "bitten": ()}
        made = replace(self, **changed)
        return made if made.blocks == blocks else replace(made, bitten=blocks)

    @property
    def blocks(self) -> tuple[Bitten, ...]:
        """Every bite, each with what belongs to it: somebody else first."""
        texts = _texts_of(self.bitten)
        is_same = all(texts[n] == getattr(self, n) for n in texts if n != "reported")
        if self.bitten and is_same:
            return self.bitten
        # Texts that say something else are another writer's: nothing is hidden.
        return (*self.bitten, *self._in_texts)

    @property
    def _in_texts(self) -> tuple[Bitten, ...]:
        other = Bitten(self.bit_or_scratched, self.when, self.first_aid)
        own = Bitten(
            self.examiner_bitten,
            self.examiner_when,
            self.washed,
            self.examiner_name,
            is_examiner=True,
        )
        said = tuple(block for block in (other, own) if block)
        if len(said) == 1 and said[0].who:
            return (replace(said[0], told=self.reported),)
        return said

    @property
    def told_of_either(self) -> str:
        """To whom a bite was reported, where it was not said which."""
        in_blocks = [block.told for block in self.blocks]
        summed = _texts_of(self.bitten)["reported"]
        return "" if self.reported in (*in_blocks, summed) else self.reported

    @property
    def concern(self) -> str:
        """What stays on every view: bites, scratches, rabies, quarantine, in words.

        Empty when there is none; a vaccine certificate alone is no concern.
        """
        parts = (
            *(
                _bitten_words(block, _joined(block.who, block.when))
                for block in self.blocks
                if block.who
            ),
            tr("rabies concern: {concern}", concern=self.rabies_concern)
            if self.rabies_concern
            else "",
            tr("quarantine: {dates}", dates=self.quarantine) if self.quarantine else "",
        )
        return "; ".join(part for part in parts if part)


_MONTH = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec"
_DATE = re.compile(
    rf"\b\d{{1,4}}(?:[-./]\d{{1,2}}|[-./ ](?:{_MONTH})[a-z]*)", re.IGNORECASE
)
_TIME_OF_DAY = re.compile(r"\b(?:[01]?\d|2[0-3]):[0-5]\d\b")


def _bitten_words(block: Bitten, said: str) -> str:
    return tr("examiner: {bitten}", bitten=said) if block.is_examiner else said


def _joined(*words: str) -> str:
    return ", ".join(filter(None, words))


def _texts_of(blocks: Iterable[Bitten]) -> dict[str, str]:
    """Return what the blocks say as the texts of a history."""
    all_of = tuple(blocks)
    others = [block for block in all_of if not block.is_examiner]
    own = [block for block in all_of if block.is_examiner]
    return {
        "bit_or_scratched": "; ".join(block.who for block in others if block.who),
        "when": _of_each(others, "when"),
        "first_aid": _of_each(others, "first_aid"),
        "examiner_bitten": "; ".join(block.who for block in own if block.who),
        "examiner_when": _of_each(own, "when"),
        "washed": _of_each(own, "first_aid"),
        "examiner_name": "; ".join(block.name for block in own if block.name),
        "reported": _of_each(all_of, "told"),
    }


def _of_each(blocks: Iterable[Bitten], name: str) -> str:
    """Return a text of one block; of several, each with whose it is."""
    said = [(block, getattr(block, name)) for block in blocks]
    if len(said) < 2:
        return "".join(text for _, text in said)
    return "; ".join(f"{block.whose}: {text}" for block, text in said if text)


@dataclass(frozen=True, slots=True)
class Intake:
    """How a shelter came by the animal; dates as typed."""

    kind: str = ""
    found_where: str = ""
    found_when: str = ""
    hold_until: str = ""
    scans: tuple[ChipScan, ...] = ()


@dataclass(frozen=True, slots=True)
class Given:
    """Something given to the animal; does not replace the controlled-drug log.

    Attributes:
        dose: Dose and unit as typed; nothing is computed from it.
        given_by: Who gave it, in words; empty when the examiner did.
        withdrawal: As on the label, for an animal that is food; zero is said too.
    """

    product: str
    attribution: Attribution
    dose: str = ""
    route: str = ""
    site: str = ""
    at: Moment | None = None
    lot: str = ""
    expiry: str = ""
    ordered_by: str = ""
    reason: str = ""
    withdrawal: str = ""
    given_by: str = ""


@dataclass(frozen=True, slots=True)
class Sample:
    """A sample or test: kind, label on the tube, test asked for, result."""

    kind: str
    attribution: Attribution
    label: str = ""
    test: str = ""
    result: str = ""


@dataclass(frozen=True, slots=True)
class Procedure:
    """Something done to the animal: a bandage, a nail cut, a catheter."""

    what: str
    attribution: Attribution
    where: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Care:
    """What whoever looks after the animal must know, in words."""

    isolation: str = ""
    nothing_by_mouth: str = ""
    medication_due: str = ""


@dataclass(frozen=True, slots=True)
class PrivateNote:
    """Facts for the veterinarian only; in no card, sheet or shared form."""

    text: str
    attribution: Attribution


@dataclass(frozen=True, slots=True)
class Plan:
    """The veterinarian's assessment and plan, re-check, what the owner was told."""

    assessment: str = ""
    differentials: str = ""
    plan: str = ""
    recheck: str = ""
    owner_told: str = ""


@dataclass(frozen=True, slots=True)
class Photo:
    """A photograph, named by the SHA-256 of its bytes; these stand beside the exam.

    Attributes:
        sha256: Of the prepared picture, a JPEG, in hexadecimal; no exam has two alike.
        caption: What it shows, in words.
        key: Region key of the part it shows, or empty.
        side: ``left``, ``right``, ``midline`` or empty; the animal's own side, where
            the key does not say it.
        finding_id: The finding of this exam that it shows, or the earlier one it was
            asked about; empty for none. Its mark is that finding's.
        width, height: Pixels of the prepared picture; 0 where an earlier version wrote
            the record.
        size: Bytes of it; 0 likewise.
        attribution: Who took it and when, who added it and when.
    """

    sha256: str
    caption: str = ""
    key: str = ""
    side: str = ""
    finding_id: str = ""
    width: int = 0
    height: int = 0
    size: int = 0
    attribution: Attribution | None = None
