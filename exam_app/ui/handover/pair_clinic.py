"""Pair this device with its clinic: read a card, answer it, compare six words.

Nothing is kept before a person has said that the words are the same.
"""

from dataclasses import dataclass, field

import flet as ft

from exam_app.app.clinic.pictures import can_use_camera
from exam_app.app.exam_sessions import now
from exam_app.app.handover import pairing_device as pairing
from exam_app.app.view.clinic_pairing_presenter import FINDING
from exam_app.crypto import door
from exam_app.domain.errors import ExamError
from exam_app.exchange.exchange import Exchange
from exam_app.ui.clinic.camera import CodeCamera
from exam_app.ui.handover.files import first_whole, picked_texts
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.theme import CORNER
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.code_view import code_picture, modules_of, on_white
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.files import copy_text, offer_file
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side, stack
from sync.errors import NotACardError
from sync.transport.qr import qr_png
from sync.trust.cards import as_text
from sync.trust.pairing import Answer, answer, pairing_words


def numbered_words(words: tuple[str, ...]) -> ft.Control:
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


def paired_banner(tab: Tab) -> ft.Control:
    """Name the clinic that this device is paired with; empty when there is none."""
    words = pairing.clinic_words(tab.vault)
    if not words:
        return ft.Container()
    text = f"Paired with {words}. A new card replaces this clinic."
    return banner("pair-clinic", text)


DEVICE_NAME = "device_name"
_CODE_ROOM = 360


async def build(tab: Tab) -> Screen:
    """Build the screen at its first step."""
    return Pairing(tab).screen()


@dataclass(slots=True, repr=False)
class Pairing:
    """One pairing, from the card to the words; lives as long as the screen."""

    tab: Tab
    _answer: Answer | None = None
    _words: tuple[str, ...] = ()
    _said: str = ""
    _name: Field = field(init=False)
    _text: Field = field(init=False)
    _eye: CodeCamera = field(init=False)
    _note: Slot = field(init=False)
    _place: Slot = field(init=False)

    def __post_init__(self) -> None:
        """Draw the first step."""
        kept = self.tab.vault.settings.get(DEVICE_NAME, "")
        self._name = text_field(
            "pair-name", "Name of this device, as the clinic will call it", value=kept
        )
        self._text = text_field("pair-text", "Text of the clinic's card", lines=3)
        self._eye = CodeCamera(self.tab, self._seen)
        # Apart from the camera, which a redrawing would start anew.
        self._note = Slot(self._draw_note, hides_empty=True)
        self._place = Slot(self._draw)

    def screen(self) -> Screen:
        """Build the screen."""
        return Screen(
            title="Pair with a clinic",
            back="/hand-over",
            on_leave=self._eye.stop,
            body=[paired_banner(self.tab), self._place.control],
        )

    def _draw(self) -> ft.Control:
        made = self._answer
        return self._draw_card() if made is None else self._draw_answer(made)

    def _draw_note(self) -> ft.Control:
        if not self._said:
            return ft.Container()
        return banner("pair-said", self._said, Tone.NOTICE)

    def _draw_card(self) -> ft.Control:
        return stack(
            paragraph(pairing.HOW),
            self._name.control,
            section(
                "The clinic's card",
                self._note.control,
                *([self._eye.slot.control] if can_use_camera() else []),
                self._text.control,
                side_by_side(
                    button("pair-read", "Read this card", self._read_text, kind="main"),
                    button(
                        "pair-file",
                        "Open a file or photo",
                        self._read_file,
                        icon=ft.Icons.FOLDER_OPEN,
                    ),
                ),
            ),
        )

    async def _read_text(self) -> None:
        await self._read((self._text.value,))

    async def _read_file(self) -> None:
        for texts, content in await picked_texts(self.tab, self._say):
            await (self._read(texts) if texts else self._answer_card(content))

    async def _seen(self, codes: tuple[str, ...]) -> bool:
        await self._read(codes)
        # A name that is still being typed must not be taken by the next picture.
        is_unnamed = bool(self._said) and self._said == self._name_problem()
        return self._answer is not None or is_unnamed

    async def _read(self, texts: tuple[str, ...]) -> None:
        """Answer the first text that is whole; say so when none is."""
        card = first_whole(texts)
        if card is None:
            self._say(NotACardError.advice)
        else:
            await self._answer_card(card)

    def _name_problem(self) -> str:
        return pairing.name_problem(self._name.value)

    async def _answer_card(self, card: bytes) -> None:
        if self._said == FINDING:
            # A camera goes on seeing the card meanwhile.
            return
        if problem := self._name_problem():
            self._say(problem)
            return
        vault, name = self.tab.vault, self._name.value
        keys = pairing.device_keys(vault, name, is_demo=self.tab.session.is_demo)
        try:
            made = answer(card, keys, now(), door.random_bytes)
            pairing.check_known_clinic(vault, made.clinic)
        except ExamError as refusal:
            self._say(refusal.advice)
            return
        self._say(FINDING)
        self._words = await pairing_words(made.cards)
        self._answer = made
        await self.tab.save(lambda: vault.settings.put(DEVICE_NAME, name))
        self._say("")
        self._place.refresh()

    def _say(self, sentence: str) -> None:
        # A camera sees the same wrong code many times.
        if sentence != self._said:
            self._said = sentence
            self._note.refresh()

    def _draw_answer(self, made: Answer) -> ft.Control:
        clinic = made.clinic
        text = as_text(made.sealed)
        left = pairing.minutes_left(clinic.expires_ms, now())
        png = qr_png(text)
        side = _CODE_ROOM // modules_of(png) * modules_of(png)
        return stack(
            section(
                f"This device's answer to {clinic.name}",
                on_white(
                    "pair-answer-code",
                    code_picture(png, side),
                    "The answer as a code",
                ),
                quiet(f"{pairing.ANSWER_NOTE} {left}"),
                self._ways_out(text, made.sealed),
            ),
            section(
                "Six words", paragraph(pairing.COMPARE), numbered_words(self._words)
            ),
            self._verdict(made),
        )

    def _ways_out(self, text: str, sealed: bytes) -> ft.Control:
        async def copied() -> None:
            await copy_text(self.tab, text)
            self.tab.tell("The answer was copied as text.")

        async def saved() -> None:
            await offer_file(self.tab, "device-answer.exam-card", sealed)

        shown = text_field(
            "pair-answer-text", "The answer as text", value=text, lines=2
        )
        shown.entry.read_only = True
        return stack(
            shown.control,
            side_by_side(
                button(
                    "pair-answer-copy",
                    "Copy the text",
                    copied,
                    icon=ft.Icons.CONTENT_COPY,
                ),
                button(
                    "pair-answer-file", "Save as a file", saved, icon=ft.Icons.SAVE_ALT
                ),
            ),
        )

    def _verdict(self, made: Answer) -> ft.Control:
        async def same() -> None:
            vault, clinic = self.tab.vault, pairing.clinic_document(made.clinic)
            await self.tab.save(lambda: Exchange(vault).pairing.put_clinic(clinic))
            await self.tab.go("/hand-over")
            self.tab.tell(f"Paired with {made.clinic.name}.")

        return side_by_side(
            button(
                "pair-same",
                "The same six words",
                same,
                icon=ft.Icons.CHECK,
                kind="main",
            ),
            button(
                "pair-differ", "Other words: stop", self._differ, icon=ft.Icons.BLOCK
            ),
        )

    def _differ(self) -> None:
        self._answer = None
        self._text.entry.value = ""
        self._place.refresh()
        self._say(pairing.DIFFERENT)
