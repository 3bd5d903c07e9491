"""The choice of a language: each in its own words, with what is to be known of it."""

from collections.abc import Awaitable, Callable

import flet as ft

from exam_app.app import language_choice
from exam_app.language.catalogue import LANGUAGES, chosen, to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import pick
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.notices import ProblemNotice, Tone, banner
from exam_app.ui.widgets.texts import quiet, section, stack

_KNOWN_OF = {
    "es": to_translate(
        "translated with a machine's help, not checked by a veterinarian"
    )
}
_ENGLISH_STAYS = to_translate(
    "Records, what is handed over and what was typed stay as they are written."
)


def language(tab: Tab, _changed: Callable[[], None]) -> list[ft.Control]:
    """Choose the language of every screen, which is drawn in it at once."""

    async def choose(code: str) -> None:
        is_shown = await language_choice.choose(tab.session, code)
        if not problem.say("" if is_shown else tr(language_choice.MISSING)):
            await tab.show_route()

    problem = ProblemNotice("language-problem", hides_empty=True)
    drawn = stack(*language_lines(choose), spacing=8)
    return [section("", drawn, problem.control, quiet(tr(_ENGLISH_STAYS)))]


def notice(tab: Tab) -> list[ft.Control]:
    """Say above every screen that the chosen language could not be shown."""
    if not language_choice.is_missing(tab.vault):
        return []
    route = "/settings/language"
    way = button("language-missing-open", tr("Settings"), tab.way(route))
    ways = () if tab.page.route == route else (way,)
    said = tr(language_choice.MISSING)
    return [banner("language-missing", said, Tone.NOTICE, *ways)]


def language_lines(choose: Callable[[str], Awaitable[None]]) -> list[ft.Control]:
    """Draw a line for each language, in its own words; the one shown is ticked.

    Args:
        choose: Awaited with the code of the one that is tapped.
    """
    return [_line(code, name, choose) for code, name in LANGUAGES.items()]


def _line(code: str, name: str, choose: Callable[[str], Awaitable[None]]) -> ft.Control:
    async def tapped() -> None:
        await choose(code)

    known = tr(_KNOWN_OF.get(code, ""))
    return pick(
        for_choice("language", code),
        f"{name}: {known}" if known else name,
        tapped,
        is_chosen=code == chosen(),
        is_row=True,
        size="usual",
    )


def language_button(tab: Tab, drawn_anew: Callable[[], Awaitable[None]]) -> ft.Control:
    """Make the button that offers the languages before anything is kept.

    Args:
        drawn_anew: Awaited once another one is shown.
    """

    async def choose(code: str) -> None:
        before = chosen()
        if not language_choice.show_in(code):
            language_choice.show_in(before)
            problem.say(tr(language_choice.MISSING))
            return
        tab.close_sheet()
        await drawn_anew()

    def offer() -> None:
        tab.open_sheet(
            tr("Language"),
            stack(*language_lines(choose), spacing=8),
            problem.control,
            grows=True,
        )

    problem = ProblemNotice("language-problem", hides_empty=True)
    words = tr("Language: {name}", name=LANGUAGES[chosen()])
    return button("language-offer", words, offer, kind="icon", icon=ft.Icons.LANGUAGE)
