"""Claims struck before a part is answered: kept, shown by its buttons, then recorded.

A strike is made on the part's own screen and holds wherever the part is answered from.
It is kept like anything typed and not saved, so that it outlasts leaving and a kill.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from exam_app.domain.protocol import Region
from exam_app.ui.exam_desk import ExamDesk
from exam_app.ui.exam_room import typed_in
from exam_app.ui.region_presenter import claims, keys_of, label_of, open_keys
from exam_app.ui.typed_shelf import Typed

if TYPE_CHECKING:
    from exam_app.ui.tab import Tab

NOTHING_SEEN = "Nothing of it was seen: use More, then Not examined."
Struck = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, repr=False)
class Strikes:
    """The strikes of one part, before and after it is answered."""

    tab: "Tab"
    desk: ExamDesk
    region: Region

    @property
    def typed(self) -> Typed:
        """Where they are kept until they are recorded."""
        label = f"{label_of(self.desk.exam, self.region)}: struck as not seen"
        name = f"strikes-{self.region.region_id}"
        return typed_in(self.tab, self.desk, name, label)

    @property
    def is_open(self) -> bool:
        """Whether some side is not answered yet."""
        keys = keys_of(self.desk.exam, self.desk.protocol, self.region)
        return bool(open_keys(self.desk.exam, keys))

    def recorded(self) -> dict[str, str]:
        """Return the strikes of the record, of the first side that has any.

        None while a side is open: what was struck on one side says nothing of the
        other.
        """
        exam = self.desk.exam
        if self.is_open:
            return {}
        for key in keys_of(exam, self.desk.protocol, self.region):
            if exam.entry(key).struck:
                return {s.clause_id: s.reason for s in exam.entry(key).struck}
        return {}

    def now(self) -> Struck:
        """Return what is struck now as (clause id, reason), in the claims' order."""
        typed, saved = self.typed, self.recorded()
        said = (
            (clause_id, typed.value(clause_id, saved.get(clause_id, "")))
            for clause_id, _ in claims(self.desk.exam, self.region)
        )
        return tuple((clause_id, reason) for clause_id, reason in said if reason)

    def is_changed(self) -> bool:
        """Whether something is struck, or taken back in, that is not recorded so."""
        return dict(self.now()) != self.recorded()

    def leaves_nothing(self) -> bool:
        """Whether every claim is struck: that is "not examined"."""
        return len(self.now()) == len(claims(self.desk.exam, self.region))

    def strike(self, clause_id: str, reason: str) -> None:
        """Strike a claim for a reason; an empty one takes it back in."""
        saved = self.recorded().get(clause_id, "")
        self.typed.note(clause_id, reason, saved)

    def settle(self) -> None:
        """Forget the strikes once every side is answered: the record has them."""
        if not self.is_open:
            self.typed.drop()
