"""Put together what a sheet says from what is kept, and return it as a PDF.

Nothing here changes anything, and nothing leaves the machine: a sheet is bytes.
"""

from collections.abc import Sequence
from dataclasses import replace

from exam_app.app.clinic.notes import corrections_beside, notes_beside
from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.app.exam_words import signed_line
from exam_app.app.forms.round_cells import Column
from exam_app.app.queries.clinic_records import pressing_of, rechecks_asked
from exam_app.app.queries.history import read_history
from exam_app.app.queries.kennel_cards import exams_of
from exam_app.app.queries.kept_records import KeptRecord, read_kept
from exam_app.app.view.clinic_review_presenter import (
    ReadingList,
    review_lines,
    review_title,
)
from exam_app.app.view.round_presenter import columns_offered
from exam_app.domain.animal.history import Series
from exam_app.domain.animal.signalment import Animal
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.people import Person, Role
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Scope, SpeciesProtocol
from exam_app.domain.wording.exam_wording import person_name
from exam_app.domain.wording.kennel_card import is_by_veterinarian
from exam_app.domain.wording.written_record import write_record
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.signed_notes import acknowledgements, notes_of, signer_of
from exam_app.language.catalogue import in_english
from exam_app.paper.blank_form import blank_sheet
from exam_app.paper.fonts import Font
from exam_app.paper.kennel import kennel_sheet
from exam_app.paper.lists import ListLine, day_sheet, round_sheet
from exam_app.paper.pdf_file import Picture
from exam_app.paper.record import RecordFacts, Signed, record_sheet
from exam_app.paper.sheet import PageSize
from exam_app.paper.take_home import TakeHome, take_home_sheet
from exam_app.protocols.loader import LoadedProtocol
from exam_app.record.errors import RecordError
from exam_app.record.jpeg import check_picture, colour_parts
from exam_app.store.errors import VaultError
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.vault import Vault

PAPER = "paper_size"


def paper_size(vault: Vault) -> PageSize:
    """Return the paper that was chosen last here; A4 where none was."""
    known = str(vault.settings.get(PAPER, "")).upper()
    return PageSize[known] if known in PageSize.__members__ else PageSize.A4


@in_english()
def practice_line(vault: Vault) -> str:
    """Name the practice and its telephone number, as far as they are set."""
    settings = vault.settings
    named = (settings.get("practice", ""), settings.get("clinic_phone", ""))
    return " · ".join(filter(None, named))


@in_english()
def print_record(vault: Vault, kept: KeptRecord, size: PageSize, font: Font) -> bytes:
    """Return a closed record for the veterinarian, with its notes and photographs.

    Raises:
        VaultError: The store cannot be read.
    """
    exam, protocol = kept.exam, kept.loaded.protocol
    beside = corrections_beside(vault, kept)
    written = write_record(exam, protocol, beside=beside)
    facts = RecordFacts(
        written.with_notes(notes_beside(vault, kept)),
        exam,
        protocol,
        _signed(vault, kept),
        _weights(vault, exam),
        _pictures(vault, exam),
        practice_line(vault),
    )
    return record_sheet(facts, size, font)


@in_english()
def print_draft(
    vault: Vault, exam: Exam, protocol: SpeciesProtocol, size: PageSize, font: Font
) -> bytes:
    """Return a draft as it stands, which says that it is not closed."""
    facts = RecordFacts(
        write_record(exam, protocol),
        exam,
        protocol,
        pictures=_pictures(vault, exam),
        practice=practice_line(vault),
    )
    return record_sheet(facts, size, font)


@in_english()
def print_take_home(
    vault: Vault, kept: KeptRecord, size: PageSize, font: Font
) -> bytes:
    """Return a closed record in plain words, for an owner or an adopter.

    Raises:
        VaultError: The store cannot be read.
    """
    settings = vault.settings
    told = TakeHome(
        kept.exam,
        kept.loaded.protocol,
        reviewed_line(vault, kept),
        settings.get("practice", ""),
        settings.get("clinic_phone", ""),
        corrections_beside(vault, kept),
    )
    return take_home_sheet(told, size, font)


@in_english()
def print_kennel_card(
    vault: Vault, animal_id: str, size: PageSize, font: Font
) -> bytes | None:
    """Return the kennel card of an animal; ``None`` where there is no exam of it.

    Raises:
        RecordError: A signed record does not verify or cannot be read.
    """
    exams = exams_of(vault, animal_id)
    if not exams:
        return None
    return kennel_sheet(exams, size, font, practice_line(vault))


@in_english()
def print_day_list(
    vault: Vault, rows: Sequence[ClosedExam], title: str, size: PageSize, font: Font
) -> bytes:
    """Return records in the order in which a veterinarian reads them.

    Args:
        vault: The open vault.
        rows: Of the records; what is acknowledged stands last.
        title: Stands above the list.
        size: Of the page.
        font: Everything is written in it.
    """
    names = Exchange(vault).pairing.names()
    asked = rechecks_asked(vault, rows)

    def line(row: ClosedExam) -> ListLine:
        name = names.get(row.device_id, "")
        again = asked.get(row.exam_id, "")
        said = review_lines(row, name, pressing_of(vault, row), again)
        return ListLine(review_title(row), said)

    reading = ReadingList.of(rows)
    groups = (
        (reading.heading(rank), [line(row) for row in there])
        for rank, there in reading.groups
    )
    foot = " · ".join(filter(None, (title, practice_line(vault))))
    return day_sheet(title, groups, size, font, foot)


EMPTY_ROWS = 8


@in_english()
def print_round(
    vault: Vault,
    group: Exam,
    protocol: SpeciesProtocol,
    columns: Sequence[Column],
    still_open: Sequence[Exam],
    size: PageSize,
    font: Font,
) -> bytes:
    """Return a round: its closed rows, its open ones, and some to fill in by hand.

    Raises:
        RecordError: A signed row does not verify or cannot be read.
    """
    in_round = vault.closed.for_group(group.exam_id)
    read = (read_kept(vault, row.exam_id) for row in in_round)
    closed = [kept.exam for kept in read if kept is not None]
    rows = [*closed, *still_open]
    # A screen names its columns in the language that was chosen.
    english = {c.key: c for c in columns_offered(protocol, words_for(group))}
    asked = [english.get(column.key, column) for column in columns]
    return round_sheet(group, protocol, asked, rows, size, font, empty=EMPTY_ROWS)


@in_english()
def print_blank_form(
    loaded: LoadedProtocol,
    scope: Scope,
    setting: Setting,
    size: PageSize,
    font: Font,
    practice: tuple[str, str] = ("", ""),
) -> bytes:
    """Return a blank form of a species.

    Args:
        loaded: The species' protocol.
        scope: Not a focused one, whose parts are chosen for an animal.
        setting: Where exams take place.
        size: Of the page.
        font: Everything is written in it.
        practice: Its name and its telephone number.
    """
    protocol = loaded.protocol
    animal = Animal("0" * 32, "", protocol.species)
    role = Role.VETERINARIAN if scope is Scope.VETERINARIAN else Role.TECHNICIAN
    nobody = Person("0" * 32, "", role, "")
    order = ExamOrder(animal, scope, setting)
    exam = begin_exam(
        order, protocol, loaded.content_hash, nobody, "0" * 32, Moment(0, 0)
    )
    return blank_sheet(exam, protocol, size, font, practice)


def reviewed_line(vault: Vault, kept: KeptRecord) -> str:
    """Say which veterinarian acknowledged this very record, or examined in it.

    Empty where none did: an acknowledgement of anybody else is none of a veterinarian.
    """
    notes, _ = notes_of(vault, kept.exam.exam_id)
    for one in acknowledgements(notes, kept.exam_hash):
        author = one.note.author
        if author.role is Role.VETERINARIAN:
            when = one.note.written.date_and_time()
            return f"Acknowledged by {author.name} ({author.role.value}), {when}"
    if is_by_veterinarian(kept.exam):
        return f"Examined by {person_name(kept.exam, kept.exam.started_by)}"
    return ""


def _signed(vault: Vault, kept: KeptRecord) -> Signed:
    said = signed_line(kept.exam, signer_of(vault, kept.key_id).name)
    return Signed(said, kept.exam_hash, kept.key_id)


def _weights(vault: Vault, exam: Exam) -> Series | None:
    """Return the animal's weight up to this exam, where it was taken in it too."""
    reader = words_for(exam)
    past = read_history(vault, exam.animal.animal_id, reader, most=None).history
    for series in past.series:
        until = tuple(v for v in series.values if v.at.utc_ms <= _end(exam))
        if series.is_body_weight and len(until) > 1:
            return replace(series, values=until)
    return None


def _end(exam: Exam) -> int:
    return (exam.closing.at if exam.closing else exam.started).utc_ms


def _pictures(vault: Vault, exam: Exam) -> dict[str, Picture]:
    """Return the photographs that are here and whole; the others are lines alone."""
    found = {}
    for photo in exam.photos:
        try:
            if vault.photographs.has(photo.sha256):
                content = vault.photographs.get(photo.sha256)
                pixels = check_picture(content)
                parts = colour_parts(content)
                one = Picture(content, pixels.width, pixels.height, parts)
                found[photo.sha256] = one
        except (VaultError, RecordError):
            continue
    return found
