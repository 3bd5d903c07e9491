"""Settings: a list of groups, each a tap away; on a laptop beside the one shown."""

from collections.abc import Callable
from dataclasses import dataclass

import flet as ft

from exam_app.app.handover import pairing_device as pairing
from exam_app.language.catalogue import LANGUAGES, chosen, tr, tr_plural
from exam_app.ui.settings import groups, language
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import scrolled, stack

ROUTE = "/settings"
_LIST_WIDTH, _BOTH_WIDTH = 400, 1200
_NARROW_GAP = 8

# Draws a group; given what is called once something that stands in its line was saved.
DrawGroup = Callable[[Tab, Callable[[], None]], list[ft.Control]]


@dataclass(frozen=True, slots=True, repr=False)
class Line:
    """A line of the list.

    Attributes:
        name: Its identifier.
        words: What is set now, in a line.
        route: Where it leads; of a group, as ``/settings/looks``.
        draw: What a group shows; None where a screen of its own does.
    """

    name: str
    title: str
    words: str
    route: str
    icon: ft.IconData
    draw: DrawGroup | None = None


def lines(tab: Tab) -> tuple[Line, ...]:
    """Return every line, in order; what is set now stands in each."""
    settings = tab.vault.settings
    people = tr_plural(
        "{count} person can examine here",
        "{count} people can examine here",
        len(tab.vault.people.all()),
    )
    known = (settings.get("practice", ""), settings.get("clinic_phone", ""))
    practice = " · ".join(filter(None, known))
    return (
        Line(
            "settings-people",
            tr("People and PINs"),
            people,
            "/people",
            ft.Icons.GROUP,
        ),
        _group(
            "practice",
            tr("Practice or shelter"),
            practice or tr("Name, phone number, its own sentences"),
            ft.Icons.HOME_WORK_OUTLINED,
            groups.practice,
        ),
        _group(
            "access",
            tr("Passphrase and recovery code"),
            tr("What opens the exams on this device"),
            ft.Icons.LOCK_OUTLINE,
            groups.access,
        ),
        _group(
            "looks",
            tr("How it looks"),
            groups.looks_words(tab),
            ft.Icons.CONTRAST,
            groups.looks,
        ),
        _group(
            "language",
            tr("Language"),
            LANGUAGES[chosen()],
            ft.Icons.LANGUAGE,
            language.language,
        ),
        _handing(tab),
        Line(
            "settings-care",
            tr("The stored exams"),
            tr("Check, back up, restore, make room"),
            "/settings/upkeep",
            ft.Icons.STORAGE,
        ),
        Line(
            "settings-export",
            tr("Whole export"),
            tr("Everything as files that are read without this app"),
            "/settings/export",
            ft.Icons.DRIVE_FOLDER_UPLOAD,
        ),
        Line(
            "settings-table",
            tr("Animals from a table"),
            tr("A CSV file taken in, and taken out again"),
            "/settings/table",
            ft.Icons.TABLE_VIEW_OUTLINED,
        ),
        Line(
            "settings-retention",
            tr("Owner details"),
            tr("How long they are kept"),
            "/settings/owners",
            ft.Icons.PERSON_OFF_OUTLINED,
        ),
        Line(
            "settings-sources",
            tr("Sources of the numbers"),
            tr("Of every species, and what has none"),
            "/settings/sources",
            ft.Icons.MENU_BOOK_OUTLINED,
        ),
        Line(
            "settings-about",
            tr("About this app"),
            tr("What it does and what not"),
            "/about",
            ft.Icons.INFO_OUTLINE,
        ),
    )


def _group(
    key: str,
    title: str,
    words: str,
    icon: ft.IconData,
    draw: DrawGroup,
) -> Line:
    name = for_choice("settings-group", key)
    return Line(name, title, words, f"{ROUTE}/{key}", icon, draw)


def _handing(tab: Tab) -> Line:
    """Lead a field device to its hand-over, a clinic to its devices."""
    if tab.vault.settings.get("role", "field") != "field":
        return Line(
            "settings-devices",
            tr("Paired devices"),
            tr("Those that hand over to this clinic"),
            "/clinic/devices",
            ft.Icons.DEVICES,
        )
    clinic = pairing.clinic_words(tab.vault)
    said = (
        tr("Sealed to {clinic}", clinic=clinic)
        if clinic
        else tr("Not paired with a clinic yet")
    )
    return _group("hand-over", tr("Hand-over"), said, ft.Icons.OUTBOX, groups.hand_over)


async def build(tab: Tab) -> Screen:
    """Build the list; on a laptop with its first group beside it."""
    listed = lines(tab)
    if not tab.is_wide:
        drawn = [_drawn(tab, line) for line in listed]
        return Screen(
            tr("Settings"),
            [stack(*drawn, spacing=_NARROW_GAP)],
            back="/",
            on_resize=_follow(tab, is_wide=False),
        )
    return _panes(tab, next(line for line in listed if line.draw))


async def build_group(tab: Tab, group: str) -> Screen:
    """Build one group; on a laptop beside the list. An unknown one is the list."""
    listed = lines(tab)
    shown = next((one for one in listed if one.route == f"{ROUTE}/{group}"), None)
    if shown is None or shown.draw is None:
        return await build(tab)
    if tab.is_wide:
        return _panes(tab, shown)
    return Screen(
        shown.title,
        # The list is drawn when it is gone back to.
        shown.draw(tab, lambda: None),
        back=ROUTE,
        on_resize=_follow(tab, is_wide=False),
    )


def _panes(tab: Tab, shown: Line) -> Screen:
    def draw() -> ft.Control:
        drawn = (
            _drawn(tab, line, is_here=line.name == shown.name) for line in lines(tab)
        )
        return stack(*drawn, spacing=_NARROW_GAP)

    listed = Slot(draw, in_place=True)
    beside = shown.draw(tab, listed.refresh) if shown.draw else []
    panes: list[ft.Control] = [
        ft.Container(scrolled(listed.control), width=_LIST_WIDTH),
        ft.Container(
            identified("settings-shown", scrolled(*beside)),
            expand=True,
        ),
    ]
    row = ft.Row(
        panes,
        spacing=24,
        expand=True,
        vertical_alignment=ft.CrossAxisAlignment.STRETCH,
    )
    return Screen(
        tr("Settings"),
        [row],
        back="/",
        scrolls=False,
        width=_BOTH_WIDTH,
        on_resize=_follow(tab, is_wide=True),
    )


def _drawn(tab: Tab, line: Line, *, is_here: bool = False) -> ft.Control:
    return line_button(
        line.name,
        line.title,
        line.words,
        tab.way(line.route),
        icon=line.icon,
        is_here=is_here,
    )


def _follow(tab: Tab, *, is_wide: bool) -> Callable[[], None]:
    """Draw one pane or two as there is room, once no sheet lies over them."""

    def resized() -> None:
        if tab.is_wide != is_wide and tab.sheet is None:
            tab.start(tab.show_route())

    return resized
