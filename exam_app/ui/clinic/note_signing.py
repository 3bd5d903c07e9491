"""Sign notes on a record: one PIN for a sitting of reviews, each note by name."""

import asyncio
from collections.abc import Awaitable, Callable, Mapping

import flet as ft

from exam_app.app.clinic.notes import (
    AskedPart,
    EmptyNoteError,
    acknowledge_once,
    keep_note,
    parts_to_ask_for,
    write_note,
)
from exam_app.app.exam_sessions import new_id, now
from exam_app.app.queries.kept_records import KeptRecord
from exam_app.app.typed_entries import Typed
from exam_app.language.catalogue import in_english, to_translate, tr
from exam_app.record.notes import Note, NoteKind
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ToggleRow
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import ProblemNotice
from exam_app.ui.widgets.pin import pin_part
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, stack, strong

OnSigned = Callable[[Note], Awaitable[None]]

# The sheet's title, what the note means, the button, and what is told afterwards.
_NOTES = {
    NoteKind.ACKNOWLEDGEMENT: (
        to_translate("Acknowledge this record"),
        to_translate(
            "It says that you have read exactly this record. It changes nothing in it, "
            "and travels back to the device with the next day pack."
        ),
        to_translate("Sign: I have read it"),
        to_translate("Acknowledged. It goes back with the next day pack."),
    ),
    NoteKind.RECHECK_REQUEST: (
        to_translate("Ask for a re-check"),
        to_translate(
            "Choose what is to be looked at again, and say why. The device shows it at "
            "this animal's next exam, once it has the day pack."
        ),
        to_translate("Sign and ask"),
        to_translate("Re-check asked for. It goes back with the day pack."),
    ),
    NoteKind.ADDENDUM: (
        to_translate("Add a note"),
        to_translate(
            "The record itself is never edited. Your words stand beside it, with your "
            "name, and travel back to the device."
        ),
        to_translate("Sign the note"),
        to_translate("Note signed. It goes back with the day pack."),
    ),
}
_ASKED = {
    NoteKind.ACKNOWLEDGEMENT: to_translate("Your words (may stay empty)"),
    NoteKind.RECHECK_REQUEST: to_translate("Why it is to be looked at again"),
    NoteKind.ADDENDUM: to_translate("Your words"),
}
_ONCE = to_translate("Already acknowledged in this name. Nothing was signed twice.")
_ENDED = to_translate(
    "This sitting has ended, so nothing was signed. Close this, what you typed stays, "
    "and open it again: your PIN is asked for there."
)
_HOLDS = to_translate(
    "This PIN holds for every record that you review now, until you leave the review, "
    "lock, or pause for as long as locks the screen."
)
_PARTS = "parts"
_REVIEW_ROUTES = ("/clinic/review", "/clinic/record/", "/clinic/versions/")


def reviewer_line(tab: Tab) -> Slot:
    """Draw who reviews, or whose PIN the first signature asks for."""

    def draw() -> ft.Control:
        person = tab.person
        name = f"{person.name}, {tr(person.role.value)}"
        if tab.session.is_reviewing:
            said = tr(
                "{name}, reviews here and signs by name until leaving or locking.",
                name=name,
            )
        else:
            said = tr(
                "Nobody reviews yet: the first signature asks for the PIN of {name}.",
                name=name,
            )
        words = paragraph(said)
        words.expand = True
        line = ft.Row([ft.Icon(ft.Icons.DRAW_OUTLINED), words], spacing=8)
        return identified("clinic-reviewer", line)

    return Slot(draw)


async def leave_review(tab: Tab) -> None:
    """End the sitting, unless what is shown next belongs to the review as well."""
    if not (tab.page.route or "").startswith(_REVIEW_ROUTES):
        tab.session.end_reviewing()


async def acknowledge(tab: Tab, kept: KeptRecord, on_signed: OnSigned) -> None:
    """Acknowledge a record at once within a sitting, else ask for the PIN first.

    Args:
        on_signed: Awaited once it is kept.
    """
    if not tab.session.is_reviewing:
        open_note(tab, kept, NoteKind.ACKNOWLEDGEMENT, on_signed)
        return
    author = tab.person
    note = write_note(NoteKind.ACKNOWLEDGEMENT, kept, author, now(), new_id())
    vault = tab.vault
    if await tab.save(lambda: acknowledge_once(vault, note)):
        await on_signed(note)
    else:
        tab.tell(tr(_ONCE))


def open_note(tab: Tab, kept: KeptRecord, kind: NoteKind, on_signed: OnSigned) -> None:
    """Open the sheet on which such a note is written and signed.

    Args:
        on_signed: Awaited once it is kept.
    """
    title, meaning, signing, told = _NOTES[kind]
    place = f"{kept.exam.exam_id}/{kind.name.lower()}"
    typed = tab.typed(f"note/{place}-{tab.person.person_id}", title)
    # A key opened it, so the cursor stands where the next keys belong.
    words = text_field(
        "clinic-note-words",
        tr(_ASKED[kind]),
        lines=2,
        typed=typed,
        autofocus=kind is NoteKind.ADDENDUM,
    )
    asks_for = kind is NoteKind.RECHECK_REQUEST
    known = (kept.exam, kept.loaded.protocol)
    asked = parts_to_ask_for(*known) if asks_for else ()
    with in_english():
        stored = parts_to_ask_for(*known) if asks_for else ()
    names = {part.key: part.label for part in stored}
    parts = _Parts(asked, names, typed)
    problem = ProblemNotice("clinic-note-problem")
    busy = asyncio.Lock()

    async def signed() -> None:
        # A second tap while the first one is being kept signs nothing.
        if busy.locked():
            return
        author, vault, sheet = tab.person, tab.vault, tab.sheet
        text, chosen = words.value, parts.chosen
        try:
            note = write_note(
                kind, kept, author, now(), new_id(), text=text, asks_for=chosen
            )
        except EmptyNoteError as error:
            problem.say(tr(error.advice))
            return
        keep = acknowledge_once if kind is NoteKind.ACKNOWLEDGEMENT else keep_note
        async with busy:
            is_kept = await tab.save(lambda: keep(vault, note))
        typed.drop()
        tab.close_only(sheet)
        if is_kept:
            await on_signed(note)
        tab.tell(tr(told if is_kept else _ONCE))

    tab.open_sheet(
        tr(title),
        paragraph(tr(meaning)),
        *parts.first,
        words.control,
        problem.control,
        _signing_part(
            tab,
            tr(signing),
            signed,
            problem,
            pin_first=kind is NoteKind.ACKNOWLEDGEMENT,
        ),
        *parts.others,
        typed=typed,
    )


def _signing_part(
    tab: Tab,
    label: str,
    signed: Callable[[], Awaitable[None]],
    problem: ProblemNotice,
    *,
    pin_first: bool,
) -> ft.Control:
    """Draw the button that signs, with the PIN only where no sitting has begun.

    Args:
        pin_first: Whether nothing else has to be typed, and the cursor stands there.
    """

    async def first() -> None:
        tab.session.begin_reviewing()
        await signed()

    async def within_sitting() -> None:
        if tab.session.is_reviewing:
            await signed()
        else:
            problem.say(tr(_ENDED))

    if not tab.session.is_reviewing:
        return stack(
            pin_part(tab, label, first, autofocus=pin_first), quiet(tr(_HOLDS))
        )
    who, icon = tab.person, ft.Icons.DRAW_OUTLINED
    said = tr(
        "Signed by this computer in the name of {name}, {role}.",
        name=who.name,
        role=tr(who.role.value),
    )
    sign = button("clinic-note-save", label, within_sitting, kind="main", icon=icon)
    return stack(sign, quiet(said))


class _Parts:
    """What is to be looked at again, what is in doubt in this record first.

    Attributes:
        first: What is in doubt, above the words and the signature.
        others: Everything else, below them; too long to be passed each time.
    """

    def __init__(
        self, asked: tuple[AskedPart, ...], names: Mapping[str, str], typed: Typed
    ) -> None:
        """Draw them; ``names`` are those kept while nothing is signed, by key."""
        self._asked, self._names, self._typed = asked, names, typed
        chosen = typed.value(_PARTS).split("; ")
        known = tuple(key for key, name in names.items() if name in chosen)
        groups = (
            ("clinic-note-doubt", tr("In doubt in this record"), "doubt"),
            ("clinic-note-undone", tr("Not done in this record"), "undone"),
            ("clinic-note-parts", tr("Everything else"), ""),
        )
        self._rows: list[ToggleRow] = []
        self.first: list[ft.Control] = []
        self.others: list[ft.Control] = []
        for group, title, field in groups:
            options = [
                (one.key, _option(one)) for one in asked if _group_of(one) == field
            ]
            if options:
                row = ToggleRow(group, options, self._note, known)
                self._rows.append(row)
                place = self.first if field == "doubt" else self.others
                place += [strong(title), row.control]

    @property
    def chosen(self) -> tuple[str, ...]:
        """Every chosen key, in the order shown."""
        keys = {key for row in self._rows for key in row.chosen}
        return tuple(part.key for part in self._asked if part.key in keys)

    async def _note(self, _: tuple[str, ...]) -> None:
        self._typed.note(_PARTS, "; ".join(self._names[key] for key in self.chosen))


def _group_of(part: AskedPart) -> str:
    return "doubt" if part.doubt else "undone" if part.undone else ""


def _option(part: AskedPart) -> str:
    why = part.doubt or part.undone
    label = tr(part.label)
    return f"{label}: {why}" if why else label
