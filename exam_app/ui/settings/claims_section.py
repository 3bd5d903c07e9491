"""The settings' list of what this practice adds to its routine sentences."""

from dataclasses import dataclass, field

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.practice_claims import every_kept, keep, switched
from exam_app.domain.animal.signalment import species_words
from exam_app.domain.errors import ExamError
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, section, stack


@dataclass(slots=True, repr=False)
class ClaimsSection:
    """Claims beyond a routine exam, and results said by habit, each to be taken out."""

    tab: Tab
    _slot: Slot = field(init=False)

    def __post_init__(self) -> None:
        """Read what was chosen."""
        self._slot = Slot(self._draw)

    def control(self) -> ft.Control:
        """Return the section."""
        return section("Sentences of this practice", self._slot.control)

    def _draw(self) -> ft.Control:
        lines: list[ft.Control] = []
        for species, chosen in every_kept(self.tab.vault).items():
            protocol = self._protocol(species)
            for name in chosen.added:
                said = claim_words(protocol, name, is_result=False)
                lines += self._line(species, name, said, is_result=False)
            for name in chosen.instead:
                said = claim_words(protocol, name, is_result=True)
                lines += self._line(species, name, said, is_result=True)
        about = quiet(
            "What every exam here says beyond the routine. It is added on the page of "
            "a part, and holds from the next exam on; records keep what they said."
        )
        return stack(about, *(lines or [quiet("Nothing was added.")]))

    def _protocol(self, species: str) -> SpeciesProtocol | None:
        try:
            return exam_sessions.protocol_for(self.tab.session, species).protocol
        except ExamError:
            return None

    def _line(
        self, species: str, name: str, said: str, *, is_result: bool
    ) -> list[ft.Control]:
        async def take_out() -> None:
            chosen = every_kept(self.tab.vault)[species]
            await keep(
                self.tab.session, species, switched(chosen, name, is_result=is_result)
            )
            self._slot.refresh()
            self.tab.tell("Taken out; it holds from the next exam on.")

        action = button(
            for_choice("settings-claim", f"{species}-{name}".replace("/", "-")),
            "Take out",
            take_out,
            icon=ft.Icons.REMOVE,
            kind="tile",
        )
        return [
            paragraph(f"{species_words(species).capitalize()}: {said}"),
            ft.Row([action]),
        ]


def claim_words(protocol: SpeciesProtocol | None, name: str, *, is_result: bool) -> str:
    """Name a chosen claim with its part; one the protocol has no more by its id."""
    region_id, _, clause_id = name.partition("/")
    region = protocol.region(region_id) if protocol else None
    clauses = region.clauses if region else ()
    clause = next((c for c in clauses if c.clause_id == clause_id), None)
    if region is None or clause is None:
        return f"{name} (this protocol has it no more; it is not said)"
    said = clause.text
    if is_result:
        said = f"“{clause.strike_as}” in place of: {clause.text}"
    return f"{region.label}: {said}"
