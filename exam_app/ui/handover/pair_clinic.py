"""Pair this device with its clinic: read a card, answer it, compare six words.

Nothing is kept before a person has said that the words are the same.
"""

import flet as ft

from exam_app.app.exam_sessions import now
from exam_app.app.handover import pairing_device as pairing
from exam_app.app.view.clinic_pairing_presenter import FINDING
from exam_app.crypto import door
from exam_app.domain.errors import ExamError
from exam_app.exchange.exchange import Exchange
from exam_app.language.catalogue import tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.theme import CORNER
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.code_in import CodeIn
from exam_app.ui.widgets.code_out import still_code, text_and_file
from exam_app.ui.widgets.even_rows import evenly
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, section, stack
from sync.trust.cards import as_text
from sync.trust.pairing import Answer, answer, pairing_words

DEVICE_NAME = "device_name"


async def build(tab: Tab) -> Screen:
    """Build the screen at its first step."""
    pairing_now = _Pairing(tab)
    return Screen(
        title=tr("Pair with a clinic"),
        back="/hand-over",
        on_leave=pairing_now.card.camera.stop,
        body=[*_paired(tab), pairing_now.place.control],
    )


def _paired(tab: Tab) -> list[ft.Control]:
    words = pairing.clinic_words(tab.vault)
    text = tr("Paired with {clinic}. A new card replaces this clinic.", clinic=words)
    return [banner("pair-clinic", text)] if words else []


class _Pairing:
    """One pairing, from the card to the words; lives as long as the screen."""

    def __init__(self, tab: Tab) -> None:
        self.tab = tab
        self.answer: Answer | None = None
        self.words: tuple[str, ...] = ()
        self.name = text_field(
            "pair-name",
            tr("This device's name at the clinic"),
            value=tab.vault.settings.get(DEVICE_NAME, ""),
        )
        self.card = CodeIn(
            tab, "pair", tr("Text of the clinic's card"), self._taken, hides_empty=True
        )
        self.place = Slot(self._draw)

    def _draw(self) -> ft.Control:
        made, card = self.answer, self.card
        if made is not None:
            return self._draw_answer(made)
        opening = ft.Icons.FOLDER_OPEN
        return stack(
            paragraph(tr(pairing.HOW)),
            self.name.control,
            section(
                tr("The clinic's card"),
                card.problem.control,
                *card.camera_parts(),
                card.field.control,
                evenly(
                    [
                        button(
                            "pair-read", tr("Read this card"), card.read, kind="main"
                        ),
                        button(
                            "pair-file",
                            tr("Open a file or photo"),
                            card.pick,
                            icon=opening,
                        ),
                    ]
                ),
            ),
        )

    async def _taken(self, card: bytes) -> bool:
        """Answer a card; True where the camera looks for no other one."""
        if self.card.problem.text == tr(FINDING):
            # A camera goes on seeing the card meanwhile.
            return False
        vault, name = self.tab.vault, self.name.value
        if problem := pairing.name_problem(name):
            self.card.say(problem)
            # A name that is still being typed must not be taken by the next picture.
            return True
        keys = pairing.device_keys(vault, name)
        try:
            made = answer(card, keys, now(), door.random_bytes)
            pairing.check_known_clinic(vault, made.clinic)
        except ExamError as refusal:
            self.card.say(tr(refusal.advice))
            return False
        self.card.say(tr(FINDING))
        self.words = await pairing_words(made.cards)
        self.answer = made
        await self.tab.save(lambda: vault.settings.put(DEVICE_NAME, name))
        self.card.say("")
        self.place.refresh()
        return True

    def _draw_answer(self, made: Answer) -> ft.Control:
        clinic, text = made.clinic, as_text(made.sealed)
        same, other = tr("The same six words"), tr("Other words: stop")
        left = pairing.minutes_left(clinic.expires_ms, now())
        return stack(
            section(
                tr("This device's answer to {name}", name=clinic.name),
                still_code("pair-answer-code", text, tr("The answer as a code")),
                quiet(f"{tr(pairing.ANSWER_NOTE)} {left}"),
                text_and_file(
                    self.tab,
                    "pair-answer",
                    text,
                    tr("The answer"),
                    ("device-answer.exam-card", made.sealed),
                    tr("The answer was copied as text."),
                ),
            ),
            section(
                tr("Six words"), paragraph(tr(pairing.COMPARE)), _numbered(self.words)
            ),
            evenly(
                [
                    button(
                        "pair-same", same, self._same, icon=ft.Icons.CHECK, kind="main"
                    ),
                    button("pair-differ", other, self._differ, icon=ft.Icons.BLOCK),
                ]
            ),
        )

    async def _same(self) -> None:
        if self.answer is None:
            return
        vault, clinic = self.tab.vault, self.answer.clinic
        kept = pairing.clinic_of(clinic)
        await self.tab.save(lambda: Exchange(vault).pairing.put_clinic(kept))
        await self.tab.go("/hand-over")
        self.tab.tell(tr("Paired with {name}.", name=clinic.name))

    def _differ(self) -> None:
        self.answer = None
        self.card.field.entry.value = ""
        self.place.refresh()
        self.card.say(tr(pairing.DIFFERENT))


def _numbered(words: tuple[str, ...]) -> ft.Control:
    """Number the words, since their order counts."""
    boxes = [_word(number, word) for number, word in enumerate(words, 1)]
    row = ft.Row(boxes, wrap=True, spacing=12, run_spacing=12)
    return identified("pair-words", row)


def _word(number: int, word: str) -> ft.Control:
    style = ft.TextThemeStyle.HEADLINE_MEDIUM
    box = ft.Container(
        ft.Text(f"{number}. {word}", theme_style=style),
        bgcolor=ft.Colors.SURFACE,
        border=ft.Border.all(2, ft.Colors.OUTLINE),
        border_radius=CORNER,
        padding=ft.Padding.symmetric(vertical=8, horizontal=14),
    )
    return identified(for_choice("pair-words", str(number)), box)
