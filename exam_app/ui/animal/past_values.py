"""One value over time: its newest words, its plot, and the table behind the plot."""

from collections.abc import Sequence

import flet as ft

from exam_app.app.queries.clinic_records import is_clinic
from exam_app.app.view.history_presenter import (
    HistoryLine,
    legend,
    newest_words,
    since_words,
    spoken_plot,
    value_lines,
)
from exam_app.app.view.plot import plot_of
from exam_app.domain.animal.history import Series
from exam_app.language.catalogue import tr, tr_plural
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.list_lines import GrowingList, line_button
from exam_app.ui.widgets.plot_picture import plot_picture
from exam_app.ui.widgets.room import ROOM
from exam_app.ui.widgets.texts import paragraph, quiet, strong

_HEIGHT, _FONT = 150, 14
_SHOWN_AT_ONCE = 30


def name_of(series: Series) -> str:
    """Name a series in an identifier: a vital can have one for each of its scales."""
    scale = f"-{series.scale_id}" if series.scale_id else ""
    return f"{series.vital_id}{scale}".replace("_", "-")


def record_route(tab: Tab, exam_id: str) -> str:
    """Return where a record is read, at the clinic and on a device."""
    where = "clinic/record" if is_clinic(tab.vault) else "record"
    return f"/{where}/{exam_id}"


def drawn_values(series: Series, width: float, group: str) -> list[ft.Control]:
    """Draw the newest value, what it differs by, and the plot where there is one.

    Args:
        series: What is drawn.
        width: Of the plot, in pixels.
        group: Begins the identifier of the plot.
    """
    since = since_words(series)
    drawn: list[ft.Control] = [strong(newest_words(series))]
    drawn += [paragraph(since)] if since else []
    font = _FONT * ROOM.text_scale
    plot = plot_of(series.values, width, _HEIGHT + 2 * font, font)
    if plot is not None:
        name = for_choice(group, name_of(series))
        picture = plot_picture(name, plot, spoken_plot(series))
        drawn += [picture, quiet(legend(series, plot))]
    return drawn


def table_button(tab: Tab, series: Series) -> ft.Control:
    """Make the button behind which every value of a plot stands in words."""

    def opened() -> None:
        open_lines(tab, tr(series.label), value_lines(series.values))

    label = tr_plural(
        "{label}: {count} value, as a table",
        "{label}: {count} values, as a table",
        len(series.values),
        label=tr(series.label),
    )
    name = for_choice("history-table", name_of(series))
    return button(name, label, opened, icon=ft.Icons.LIST)


def open_values(tab: Tab, listed: Sequence[Series], *ways: ft.Control) -> None:
    """Open the values of one vital on a sheet: its plot, and the table below it.

    Args:
        tab: Where it is shown.
        listed: Its series; one, unless its scale or unit has become another.
        ways: What leads on from the sheet.
    """
    controls: list[ft.Control] = []
    for series in listed:
        controls += drawn_values(series, ROOM.sheet, "earlier-plot")
        controls.append(_lines(tab, value_lines(series.values)))
    tab.open_sheet(
        tr("{label} over time", label=tr(listed[0].label)), *ways, *controls, grows=True
    )


def open_lines(
    tab: Tab, title: str, lines: Sequence[HistoryLine], *ways: ft.Control
) -> None:
    """Open lines on a sheet, each of which leads to its record.

    Args:
        tab: Where it is shown.
        title: Of the sheet.
        lines: The newest first.
        ways: What leads on from the sheet.
    """
    tab.open_sheet(title, *ways, _lines(tab, lines), grows=True)


def _lines(tab: Tab, lines: Sequence[HistoryLine]) -> ft.Control:
    def draw(count: int) -> tuple[list[ft.Control], str]:
        drawn = history_lines(tab, "history-value", lines[:count])
        left = len(lines) - count
        return drawn, tr("Show earlier ones ({left})", left=left) if left > 0 else ""

    return GrowingList("history-value-more", _SHOWN_AT_ONCE).drawn(draw)


def history_lines(
    tab: Tab, group: str, lines: Sequence[HistoryLine]
) -> list[ft.Control]:
    """Draw lines, each of which leads to the record that says it."""
    return [
        line_button(
            for_choice(group, f"{place}-{line.exam_id}"),
            line.title,
            line.words,
            tab.way(record_route(tab, line.exam_id)),
            icon=ft.Icons.HISTORY,
        )
        for place, line in enumerate(lines)
    ]
