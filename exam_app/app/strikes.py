"""Claims struck before a part is answered: kept, shown by its buttons, then recorded.

A strike is made on the part's own screen and holds wherever the part is answered from.
It is kept like anything typed and not saved, so that it outlasts leaving and a kill.
"""

from dataclasses import dataclass

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.exam_sessions import typed_in
from exam_app.app.session import Session
from exam_app.app.typed_entries import Typed
from exam_app.app.view.region_presenter import claims, keys_of, label_of, open_keys
from exam_app.app.view.rest_presenter import Parted, habits, parted
from exam_app.domain.exam.region_states import Conclusion
from exam_app.domain.protocol.protocol import Region
from exam_app.language.catalogue import to_translate, tr

NOTHING_SEEN = to_translate("Nothing of it was seen: use More, then Not examined.")
Struck = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, repr=False)
class Strikes:
    """The strikes of one part, before and after it is answered."""

    session: Session
    editor: ExamEditor
    region: Region

    @property
    def typed(self) -> Typed:
        """Where they are kept until they are recorded."""
        label = tr(
            "{part}: struck as not seen",
            part=label_of(self.editor.exam, self.region),
        )
        name = f"strikes-{self.region.region_id}"
        return typed_in(self.session, self.editor, name, label)

    @property
    def is_open(self) -> bool:
        """Whether some side is not answered yet."""
        keys = keys_of(self.editor.exam, self.editor.protocol, self.region)
        return bool(open_keys(self.editor.exam, keys))

    def recorded(self) -> dict[str, str]:
        """Return what the record leaves out, of the first side that leaves anything.

        While a side, or the rest beside a find, is open it is what the exam answers
        by habit: what was struck on one side says nothing of the other.
        """
        exam = self.editor.exam
        keys = keys_of(exam, self.editor.protocol, self.region)
        unsaid = [k for k in keys if exam.entry(k).conclusion is Conclusion.OPEN]
        if unsaid:
            return dict(habits(exam, self.region, unsaid[0]))
        for key in keys:
            entry = exam.entry(key)
            if entry.struck or entry.instead:
                left_out = (*entry.struck, *entry.instead)
                return {item.clause_id: item.reason for item in left_out}
        return {}

    def now(self) -> Struck:
        """Return what is left out now as (clause id, why), in the claims' order."""
        typed, saved = self.typed, self.recorded()
        said = (
            (clause_id, typed.value(clause_id, saved.get(clause_id, "")))
            for clause_id, _ in claims(self.editor.exam, self.region)
        )
        return tuple((clause_id, reason) for clause_id, reason in said if reason)

    def is_changed(self) -> bool:
        """Whether something is struck, or taken back in, that is not recorded so."""
        return dict(self.now()) != self.recorded()

    def parted(self) -> Parted:
        """Return what is left out now, by the three ways that it can be."""
        return parted(self.region, self.now())

    def leaves_nothing(self) -> bool:
        """Whether every claim is struck: that is "not examined"."""
        every = len(claims(self.editor.exam, self.region))
        return len(self.parted().struck) == every

    def strike(self, clause_id: str, reason: str) -> None:
        """Strike a claim for a reason; an empty one takes it back in."""
        saved = self.recorded().get(clause_id, "")
        self.typed.note(clause_id, reason, saved)

    def settle(self) -> None:
        """Forget the strikes once every side is answered: the record has them."""
        if not self.is_open:
            self.typed.drop()
