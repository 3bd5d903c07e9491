"""What the screens of an open exam draw from: one observable for each part.

A screen that reads one part is drawn again only when that part changes.
"""

import time
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from exam_app.app.observed import Observed
from exam_app.app.view.visit_presenter import Part
from exam_app.domain.exam.exam import Exam, keys_offered, vitals_in_scope
from exam_app.domain.exam.findings import EarlierFinding
from exam_app.domain.exam.handling import Reaction, reactions_of
from exam_app.domain.exam.region_states import RegionEntry, RegionState
from exam_app.domain.exam.review import progress
from exam_app.domain.exam.urgent import UrgentEntry
from exam_app.domain.exam.visit import Photo
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol, split_key

# A finger that taps twice by mistake does it within this time.
GUARD_SECONDS = 0.35


class SaveState(StrEnum):
    """What the screen says about the last change."""

    SAVED = "saved"
    SAVING = "saving"
    NOT_SAVED = "not saved"


@dataclass(eq=False)
class RegionView(Observed):
    """One region key as the screen shows it."""

    key: str
    entry: RegionEntry
    earlier: tuple[EarlierFinding, ...] = ()
    photos: tuple[Photo, ...] = ()
    added: tuple[str, ...] = ()


@dataclass(eq=False)
class VitalView(Observed):
    """One vital as the screen shows it."""

    vital_id: str
    entry: VitalEntry


@dataclass(eq=False)
class UrgentView(Observed):
    """The urgent signs of the exam, in the order they opened."""

    entries: tuple[UrgentEntry, ...] = ()

    @property
    def unanswered(self) -> tuple[UrgentEntry, ...]:
        """The signs of which no veterinarian knows yet."""
        return tuple(entry for entry in self.entries if not entry.is_answered)


@dataclass(eq=False)
class VisitView(Observed):
    """One part of what surrounds the exam, by the name of the exam's own field."""

    part: str
    said: object = None


@dataclass(eq=False)
class Overview(Observed):
    """What is always in view: progress, the save, the last step."""

    done: int = 0
    total: int = 0
    vitals_done: int = 0
    vitals_total: int = 0
    save: SaveState = SaveState.SAVED
    problem: str = ""
    is_closed: bool = False


@dataclass(eq=False)
class PeopleView(Observed):
    """The names of who examines and, if it is somebody else, who writes."""

    examiner: str = ""
    scribe: str = ""


@dataclass(eq=False)
class LateView(Observed):
    """When all that is entered now was seen, as one person said for all of it.

    Attributes:
        seen: None where what is entered is seen now.
        said_by: ``person_id`` of who said so; it holds for what that person enters.
    """

    seen: Moment | None = None
    said_by: str = ""


@dataclass(eq=False)
class ParkedView(Observed):
    """The parts put off to later, as region ids from head to tail."""

    region_ids: tuple[str, ...] = ()


@dataclass(eq=False)
class HandlingView(Observed):
    """How the animal answered to the hands: in this exam, and in earlier ones."""

    now: tuple[Reaction, ...] = ()
    earlier: tuple[Reaction, ...] = ()


@dataclass(eq=False)
class CurrentView(Observed):
    """The one place that is being answered.

    Attributes:
        place: A part by its region id, a vital as ``vital:ID``; empty before the list
            was shown.
        status: Where it stood when it was brought up.
        side: The side of it that was pointed at, which is offered first.
        moved_at: When it was brought up, in seconds of the steady clock.
    """

    place: str = ""
    side: str = ""
    status: str = ""
    moved_at: float = 0.0

    @property
    def is_settling(self) -> bool:
        """Whether a tap now may have been meant for the place before."""
        return time.monotonic() - self.moved_at < GUARD_SECONDS

    def begin_settling(self) -> None:
        """Take no tap for a moment: what stands under the finger is another now."""
        self.moved_at = time.monotonic()


@dataclass(eq=False)
class StepsView(Observed):
    """What can be taken back and done again: its name, and the places it changed."""

    back: str | None = None
    back_at: tuple[str, ...] = ()
    again: str | None = None
    again_at: tuple[str, ...] = ()


class ExamView:
    """Everything the screens of one exam draw from.

    Attributes:
        regions: One part for each region key the exam can answer, head to tail.
        vitals: One part for each vital in scope, in protocol order.
        visit: One part for each field of the exam that a row around it follows.
        urgent, overview, people, late, parked, handling, current, steps: See their
            classes.
    """

    def __init__(self, exam: Exam, protocol: SpeciesProtocol) -> None:
        """Show an exam; its scope never changes while it is open."""
        self._protocol = protocol
        self.regions = {
            key: RegionView(key, exam.entry(key))
            for key in keys_offered(exam, protocol)
        }
        self.vitals = {
            vital.vital_id: VitalView(vital.vital_id, exam.vital(vital.vital_id))
            for vital in vitals_in_scope(exam, protocol)
        }
        self.visit = {part.follows: VisitView(part.follows) for part in Part}
        self.urgent = UrgentView(exam.urgent)
        self.overview = Overview()
        self.people = PeopleView()
        self.late = LateView()
        self.parked = ParkedView()
        self.handling = HandlingView()
        self.current = CurrentView()
        self.steps = StepsView()
        self.show(exam)

    def show(self, exam: Exam) -> None:
        """Bring the parts up to date; one that did not change draws nothing."""
        for key, region in self.regions.items():
            region.entry = exam.entry(key)
            region.earlier = tuple(found for found in exam.earlier if found.key == key)
            region.photos = tuple(one for one in exam.photos if one.key == key)
            start = f"{split_key(key)[0]}/"
            added = (name for name in exam.added_claims if name.startswith(start))
            region.added = tuple(added)
        for vital_id, vital in self.vitals.items():
            vital.entry = exam.vital(vital_id)
        for part, visit in self.visit.items():
            visit.said = getattr(exam, part)
        self.urgent.entries = exam.urgent
        self.handling.now = reactions_of(exam)
        overview = self.overview
        overview.done, overview.total = progress(exam, self._protocol)
        overview.vitals_total = len(self.vitals)
        overview.vitals_done = sum(
            observed.entry.is_answered for observed in self.vitals.values()
        )
        overview.is_closed = exam.is_closed
        self.parked.region_ids = _parked(self.regions)


def _parked(regions: Mapping[str, RegionView]) -> tuple[str, ...]:
    parked = (
        split_key(key)[0]
        for key, observed in regions.items()
        if observed.entry.is_parked and observed.entry.state is RegionState.UNEXAMINED
    )
    return tuple(dict.fromkeys(parked))
