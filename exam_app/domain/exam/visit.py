"""What surrounds the exam: why it came, intake, what was given, sampled, planned.

The record has its room for all of this from version 1, whether or not a screen asks.
Facts are kept as told, read or typed; nothing here is computed.
"""

from dataclasses import dataclass

from exam_app.domain.exam.people import Attribution
from exam_app.domain.moments import Moment

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
        when: As told or typed.
        first_aid: What that person did at once.
        name: Who of the examiners it was.
    """

    who: str = ""
    when: str = ""
    first_aid: str = ""
    name: str = ""

    def __bool__(self) -> bool:
        """Whether anything is said."""
        return bool(self.who or self.when or self.first_aid)


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

    @property
    def other(self) -> Bitten:
        """Whom it bit or scratched, as told."""
        if not self.bit_or_scratched:
            return Bitten()
        return Bitten(self.bit_or_scratched, self.when, self.first_aid)

    @property
    def examiner(self) -> Bitten:
        """The examiner's own bite or scratch."""
        if not self.examiner_bitten:
            return Bitten()
        name = self.examiner_name
        return Bitten(self.examiner_bitten, self.examiner_when, self.washed, name)

    @property
    def of_nobody(self) -> tuple[Bitten, ...]:
        """Times and first aid that stand beside no person: whose, was not said."""
        told = Bitten(when=self.when, first_aid=self.first_aid)
        own = Bitten(when=self.examiner_when, first_aid=self.washed)
        left = (() if self.other else (told,), () if self.examiner else (own,))
        return tuple(one for some in left for one in some if one)

    @property
    def concern(self) -> str:
        """What stays on every view: bites, scratches, rabies, quarantine, in words.

        Empty when there is none; a vaccine certificate alone is no concern.
        """
        examiner = ", ".join(filter(None, (self.examiner_bitten, self.examiner_when)))
        bitten = ", ".join(filter(None, (self.bit_or_scratched, self.when)))
        parts = (
            bitten,
            f"examiner: {examiner}" if self.examiner_bitten else "",
            f"rabies concern: {self.rabies_concern}" if self.rabies_concern else "",
            f"quarantine: {self.quarantine}" if self.quarantine else "",
        )
        return "; ".join(part for part in parts if part)


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
    """A photograph, named by the SHA-256 of its bytes, in hexadecimal."""

    sha256: str
    caption: str = ""
    key: str = ""
