"""The sheets over a round: which columns, and closing what is finished with one PIN."""

from collections.abc import Awaitable, Callable, Sequence

from exam_app.app import round_exams as round_shelf
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms.round_cells import Column
from exam_app.domain.exam.exam import Exam
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ToggleRow
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.pin import Pin
from exam_app.ui.widgets.texts import paragraph, quiet

Chosen = Callable[[tuple[str, ...]], Awaitable[None]]


def open_columns(
    tab: Tab, offered: Sequence[Column], now: Sequence[Column], on_choose: Chosen
) -> None:
    """Ask which columns the round has beside the required ones."""
    free = {_plain(c.key): c for c in offered if not c.is_required}
    required = [column.label for column in offered if column.is_required]
    wanted = [_plain(column.key) for column in now if not column.is_required]

    async def toggled(plain: tuple[str, ...]) -> None:
        wanted[:] = plain

    async def done() -> None:
        tab.close_sheet()
        await on_choose(tuple(free[key].key for key in wanted))

    options = [(key, column.label) for key, column in free.items()]
    row = ToggleRow("round-column", options, toggled, tuple(wanted))
    tab.open_sheet(
        "What is asked of every animal?",
        paragraph(f"Always: {', '.join(required)}. Choose what else."),
        row.control,
        quiet("A column chosen is answered in every row, by a value or a reason."),
        button("round-columns-done", "Begin", done, kind="main", size="exam"),
    )


def open_closing(
    tab: Tab, group: ExamEditor, rows: Sequence[Exam], on_done: Callable[[], None]
) -> None:
    """Ask for one PIN, then close every finished row; open rows stay and are named."""

    async def signed() -> None:
        protocol = group.protocol
        found = await round_shelf.close_finished(
            tab.session, rows, protocol, pin.person
        )
        tab.close_sheet()
        on_done()
        _say(tab, found)

    pin = Pin(tab, "round-pin", signed, autofocus=tab.is_wide)
    tab.open_sheet(
        "Close and sign the finished rows",
        paragraph(
            "Each finished row becomes a signed record of its own. Open rows stay open."
        ),
        pin.field.control,
        button("round-sign", "Sign and close", pin.sign, kind="main", size="exam"),
    )


def _say(tab: Tab, found: round_shelf.Closed) -> None:
    closed = f"Closed and signed: {len(found.names)}."
    if not found.refused:
        tab.tell(closed)
        return
    still = "\n".join(found.refused)
    tab.open_sheet(
        "What stays open",
        banner("round-said", f"{closed} Still open: {len(found.refused)}", Tone.NOTICE),
        paragraph(still),
    )


def _plain(key: str) -> str:
    return key.replace(":", "-")
