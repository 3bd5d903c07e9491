"""What a routine exam of a part does not do: added at one tap, its caution first."""

from dataclasses import dataclass, field

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import Change, ExamEditor
from exam_app.app.practice_claims import PracticeClaims, claims_kept, keep, switched
from exam_app.app.view.region_presenter import keys_of, step_name
from exam_app.app.view.rest_presenter import SIDE_LABELS, with_side
from exam_app.domain.exam.denials import has_own_words, open_claims
from exam_app.domain.exam.exam import claim_name, clauses_for, clauses_to_add, words_for
from exam_app.domain.exam.region_states import Conclusion
from exam_app.domain.exam.transitions import clause_words
from exam_app.domain.protocol.protocol import Clause, Region, split_key
from exam_app.language.catalogue import tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import heading, paragraph, quiet, stack


@dataclass(slots=True, repr=False)
class AddedPart:
    """The claims of a part that are added by choice, and the practice's habits."""

    tab: Tab
    editor: ExamEditor
    region: Region
    _slot: Slot = field(init=False)

    def __post_init__(self) -> None:
        """Follow the part: what was said of it decides what can be added."""
        view = self.editor.view
        keys = keys_of(self.editor.exam, self.editor.protocol, self.region)
        self._slot = Slot(self._draw, *(view.regions[key] for key in keys))

    def control(self) -> ft.Control:
        """Return the part of the screen."""
        return self._slot.control

    @property
    def _kept(self) -> PracticeClaims:
        return claims_kept(self.tab.vault, self.editor.exam.animal.species)

    def _draw(self) -> ft.Control:
        exam = self.editor.exam
        extra = clauses_to_add(exam, self.region)
        results = [c for c in clauses_for(exam, self.region) if c.strike_as]
        shown: list[ft.Control] = []
        if extra:
            shown = [
                heading(tr("Beyond a routine exam")),
                quiet(
                    tr("Say it only of what was done. Read first when not to do it.")
                ),
            ]
        if len(extra) > 1:
            shown.append(ft.Row([self._every(extra)]))
        caution = ""
        for clause in extra:
            is_new = clause.caution not in {"", caution}
            shown += self._extra(clause, clause.caution if is_new else "")
            caution = clause.caution
        for clause in results:
            shown.append(self._habit(clause))
        return stack(*shown) if shown else ft.Container()

    def _words(self, clause: Clause) -> str:
        return tr(clause_words(clause, words_for(self.editor.exam)))

    def _every(self, extra: tuple[Clause, ...]) -> ft.Control:
        """Add all of them at once, or take all out again."""
        exam, region = self.editor.exam, self.region
        names = {claim_name(region.region_id, c.clause_id) for c in extra}
        is_added = names <= {*exam.added_claims}
        ids = tuple(clause.clause_id for clause in extra)

        async def add() -> None:
            made = region_changes.added(region, ids, is_added=not is_added)
            await self._change(
                made, tr("all taken out") if is_added else tr("all added")
            )

        label = tr("Take all of them out") if is_added else tr("Add all of them")
        icon = ft.Icons.REMOVE if is_added else ft.Icons.ADD
        return button(
            for_choice("claim-add", "every"),
            label,
            add,
            icon=icon,
            expand=1,
            kind="tile",
        )

    def _extra(self, clause: Clause, caution: str) -> list[ft.Control]:
        name = claim_name(self.region.region_id, clause.clause_id)
        is_added = name in self.editor.exam.added_claims
        in_every = name in self._kept.added

        async def add() -> None:
            made = region_changes.added(
                self.region,
                (clause.clause_id,),
                is_added=not is_added,
            )
            await self._change(made, tr("taken out") if is_added else tr("added"))

        label = tr("Take out of this exam") if is_added else tr("Add to this exam")
        said: list[ft.Control] = [paragraph(self._words(clause))]
        if caution:
            said.insert(0, quiet(tr("Caution: {caution}", caution=tr(caution))))
        return [
            *said,
            ft.Row(
                [
                    button(
                        for_choice("claim-add", clause.clause_id),
                        label,
                        add,
                        icon=ft.Icons.REMOVE if is_added else ft.Icons.ADD,
                        expand=1,
                        kind="tile",
                    ),
                    self._always(clause, in_every=in_every, is_result=False),
                ],
                spacing=10,
            ),
            *self._said_too(clause),
        ]

    def _always(self, clause: Clause, *, in_every: bool, is_result: bool) -> ft.Control:
        name = claim_name(self.region.region_id, clause.clause_id)

        async def switch() -> None:
            species = self.editor.exam.animal.species
            chosen = switched(self._kept, name, is_result=is_result)
            await keep(self.tab.session, species, chosen)
            self._slot.refresh()
            self.tab.tell(tr("Kept for the exams that are started from now on."))

        if is_result:
            said = f"“{tr(clause.strike_as)}”"
            label = (
                tr("No longer {said} by habit", said=said)
                if in_every
                else tr("Say {said} by habit", said=said)
            )
        else:
            label = (
                tr("Not in every exam any more")
                if in_every
                else tr("In every exam here")
            )
        return button(
            for_choice("claim-always", clause.clause_id),
            label,
            switch,
            icon=ft.Icons.CHECK if in_every else None,
            expand=1,
            kind="tile",
        )

    def _habit(self, clause: Clause) -> ft.Control:
        name = claim_name(self.region.region_id, clause.clause_id)
        in_every = name in self._kept.instead
        return ft.Row([self._always(clause, in_every=in_every, is_result=True)])

    def _said_too(self, clause: Clause) -> list[ft.Control]:
        """Offer to say an added claim of a side that was answered before it came."""
        exam = self.editor.exam
        offers: list[ft.Control] = []
        for key in keys_of(exam, self.editor.protocol, self.region):
            is_said = exam.entry(key).conclusion is Conclusion.ASSERTED
            asks = has_own_words(exam, self.region, key)
            if is_said and not asks and clause in open_claims(exam, self.region, key):
                offers.append(ft.Row([self._too(clause, key)]))
        return offers

    def _too(self, clause: Clause, key: str) -> ft.Control:
        async def say() -> None:
            made = region_changes.said_again(key)
            await self._change(made, tr("said with what was added"))

        side = tr(SIDE_LABELS.get(split_key(key)[1], ""))
        label = with_side(side, tr("Say the sentence again, with this"))
        name = for_choice("claim-too", f"{key}-{clause.clause_id}")
        return button(name, label, say, expand=1, kind="tile")

    async def _change(self, made: Change, what: str) -> None:
        keys = keys_of(self.editor.exam, self.editor.protocol, self.region)
        name = step_name(self.editor.exam, self.region, keys, what)
        await exam_sessions.change(self.tab.session, self.editor, made, name)
