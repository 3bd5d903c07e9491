"""Whatever is signed, stored, handed over, exported or printed is English.

The whole invented practice is played by the app's own functions while a language is
chosen in which every message bears a mark. One record is corrected, one continued, all
are handed over and taken in at a clinic. The mark may then stand on a screen only.
"""

import asyncio
import gettext
import json
import re
from collections import Counter
from contextlib import contextmanager
from dataclasses import fields, is_dataclass

import pytest

from exam_app.app.clinic.export import fhir_of, table_of
from exam_app.app.exam_sessions import now
from exam_app.app.queries.kept_records import read_kept
from exam_app.app.queries.record_chain import read_together
from exam_app.app.view.kept_rows import lines_shown
from exam_app.app.view.round_presenter import columns_offered
from exam_app.domain.exam.corrections import (
    statements,
)
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.headline import found_line, headline
from exam_app.domain.wording.kennel_card import kennel_card
from exam_app.domain.wording.pressing_words import pressing_lines
from exam_app.domain.wording.spoken import spoken_lines
from exam_app.domain.wording.written_record import write_record
from exam_app.export.fhir import exam_bundle
from exam_app.export.fhir_r5 import as_r5
from exam_app.export.record_json import record_json
from exam_app.export.tables import exam_rows
from exam_app.language import catalogue
from exam_app.language.catalogue import in_english
from exam_app.paper.printing import (
    print_blank_form,
    print_day_list,
    print_draft,
    print_kennel_card,
    print_record,
    print_round,
    print_take_home,
)
from exam_app.paper.sheet import PageSize
from exam_app.protocols.loader import load_protocol
from exam_app.whole_export.contents import Wanted
from exam_app.whole_export.exporting import export_all
from tests.language.pseudo import Pseudo
from tests.language.worked_practice import drafts_of, records_of, worked_on
from tests.printed import font, pages_of


class Marked(gettext.NullTranslations):
    """A language in which every message bears a mark, whatever is made of its case."""

    def gettext(self, message):
        return f"⟦zqxkjq {message}⟧"

    def ngettext(self, one, many, count):
        return self.gettext(one if count == 1 else many)

    def pgettext(self, _context, message):
        return self.gettext(message)


def is_marked(text):
    # The letters alone: the bytes of one sign come about by chance in a signature.
    return "zqxkjq" in text.lower()


def without_marks(text):
    """Return what is left of a text as English, but for the case of its letters.

    A scale that is called by the name of its vital first says it once in English.
    """
    plain = re.sub("⟦zqxkjq |⟧", "", text, flags=re.IGNORECASE).lower()
    return re.sub(r"\b([a-z]+)(: | )\1,? ", r"\1\2", plain)


@contextmanager
def marked():
    before = catalogue._Chosen.code, catalogue._Chosen.translations
    catalogue._Chosen.code, catalogue._Chosen.translations = "es", Marked()
    try:
        yield
    finally:
        catalogue._Chosen.code, catalogue._Chosen.translations = before


@pytest.fixture(scope="module")
def both(tmp_path_factory):
    """A clinic and a device of the invented practice, filled in that language."""
    folder = tmp_path_factory.mktemp("marked")
    with marked():
        clinic, device = asyncio.run(worked_on(folder))
    yield clinic.vault, device.vault
    clinic.close()
    device.close()


def texts_in(value):
    """Give every text of a value, of whatever it is made; bytes as they would read."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, bytes):
        yield value.decode("utf-8", "replace")
    else:
        for one in parts_of(value):
            yield from texts_in(one)


def parts_of(value):
    if is_dataclass(value):
        return [getattr(value, field.name) for field in fields(value)]
    if isinstance(value, dict):
        return [*value.keys(), *value.values()]
    return value if isinstance(value, list | tuple | set | frozenset) else ()


def marked_texts(value):
    return [text for text in texts_in(value) if is_marked(text)]


def test_no_row_of_either_store_and_no_signed_byte_bears_a_mark(both):
    for vault in both:
        found = {
            name: marked_texts([dict(row) for row in vault.tables.table(name).all()])
            for name in vault.tables.tables()
        }
        assert len(found) > 8
        assert {name: texts for name, texts in found.items() if texts} == {}
        rows = vault.closed.everything()
        assert len(rows) > 20
        for row in rows:
            assert not is_marked(
                vault.closed.get(row.exam_id, row.record_hash).decode("latin-1")
            )
        assert marked_texts([*rows, *vault.drafts.open()]) == []


def test_every_exam_reads_back_in_english_with_what_was_corrected(both):
    for vault in both:
        exams = [kept.exam for kept in records_of(vault)]
        assert any(exam.corrections for exam in exams)
        assert any(exam.continues for exam in exams)
        assert any(entry.flag for exam in exams for entry in exam.vitals.values())
        assert any(exam.earlier for exam in exams)
        assert marked_texts(exams) == []


def test_statements_are_english_and_the_same_in_any_language(both):
    _, device = both
    for kept in records_of(device):
        protocol = kept.loaded.protocol
        with marked():
            stated = statements(kept.exam, protocol)
        assert stated == statements(kept.exam, protocol)


@pytest.mark.slow
def test_a_record_on_the_screen_is_that_of_the_export_in_other_words(both):
    _, device = both
    some = 0
    for exam, protocol in everything_in(device):
        for write in (write_text, headline, pressing_lines, card):
            english = write(exam, protocol)
            with marked():
                shown = write(exam, protocol)
                with in_english():
                    assert write(exam, protocol) == english
            some += any(map(is_marked, texts_in(shown)))
            assert lines_of(shown, without_marks) == lines_of(english, without_marks)
    assert some > 60


@pytest.mark.slow
def test_what_a_row_keeps_is_shown_as_its_record_says_it(both):
    """A row says no word in English that its record says in another language."""
    _, device = both
    count = 0
    for exam, protocol in everything_in(device):
        for write in (
            pressing_lines,
            one_line,
            *([headline] if exam.is_closed else []),
        ):
            kept = write(exam, protocol)
            with said_wide():
                shown = lines_shown(exam.animal.species, kept)
                as_read = write(exam, protocol)
            for row, record in zip(shown, as_read, strict=True):
                assert plain_words(row) <= plain_words(record), (row, record)
                count += 1
    assert count > 60


def plain_words(text):
    """Count the words that nothing of the app said in another language."""
    return Counter(re.findall("[A-Za-z]{2,}", text))


@contextmanager
def said_wide():
    before = catalogue._Chosen.code, catalogue._Chosen.translations
    catalogue._Chosen.code, catalogue._Chosen.translations = "es", Pseudo()
    try:
        yield
    finally:
        catalogue._Chosen.code, catalogue._Chosen.translations = before


def one_line(exam, protocol):
    return (found_line(exam, protocol),)


def lines_of(written, made):
    return [line for text in texts_in(written) for line in made(text).split("\n")]


def everything_in(vault):
    for kept in records_of(vault):
        yield kept.exam, kept.loaded.protocol
        if kept.exam.continues:
            first = read_kept(vault, kept.exam.continues)
            yield read_together([first, kept]), kept.loaded.protocol
    yield from drafts_of(vault)


def write_text(exam, protocol):
    return write_record(exam, protocol, for_veterinarian=True).as_text()


def card(exam, protocol):
    return kennel_card(exam, was_seen_by_veterinarian=False)


def test_a_record_on_the_screen_says_little_that_has_no_other_words(both):
    """Own words, names, numbers and ids stay; the sentences around them do not."""
    _, device = both
    kept = max(records_of(device), key=lambda one: len(one.exam.regions))
    with marked():
        text = write_text(kept.exam, kept.loaded.protocol)
    outside = re.sub(r"⟦[^⟦⟧]*⟧", "", re.sub(r"⟦[^⟦⟧]*⟧", "", text))
    assert len(outside) < len(text) / 5


def test_what_is_read_on_the_telephone_is_in_the_language_chosen(both):
    _, device = both
    urgent = [(e, p) for e, p in everything_in(device) if e.urgent]
    assert urgent
    for exam, protocol in urgent:
        english = dict(spoken_lines(exam, protocol, exam.people[0]))
        with marked():
            spoken = dict(spoken_lines(exam, protocol, exam.people[0]))
        # A line is known by its heading, which is shown through ``tr``.
        assert spoken.keys() == english.keys()
        assert all(map(is_marked, spoken.values()))


@pytest.mark.slow
def test_every_form_of_an_export_is_the_same_in_any_language(both, tmp_path):
    _, device = both
    wanted = Wanted(private_notes=True, owners=True)
    with marked():
        asyncio.run(export_all(device, tmp_path / "marked", now(), wanted))
    asyncio.run(export_all(device, tmp_path / "english", now(), wanted))
    pages = {name: contents(tmp_path / name) for name in ("marked", "english")}
    assert len(pages["english"]) > 100
    # The list that is signed says when it was made.
    assert differing(**pages) <= {"SHA256SUMS.cose"}
    for name, content in pages["marked"].items():
        if name.endswith(".pdf"):
            continue
        assert not is_marked(content.decode("utf-8", "replace")), name


def contents(folder):
    every = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in every}


def differing(marked, english):
    assert marked.keys() == english.keys()
    return {name for name in english if english[name] != marked[name]}


@pytest.mark.slow
def test_what_a_clinic_gives_to_other_programs_is_english(both):
    clinic, _ = both
    rows = clinic.closed.everything()
    with marked():
        table, _ = table_of(clinic, rows)
        resources = [fhir_of(clinic, kept) for kept in records_of(clinic)]
    assert not is_marked(table.decode())
    for made in resources:
        assert not is_marked(json.dumps(json.loads(made), ensure_ascii=False))


@pytest.mark.slow
def test_each_form_of_a_record_by_itself_is_english(both):
    _, device = both
    for kept in records_of(device):
        record, its_hash = (kept.exam, kept.loaded.protocol), kept.exam_hash
        with marked():
            made = (
                record_json(*record, its_hash, kept.key_id, for_veterinarian=True),
                exam_rows(*record, is_whole=True),
                as_r5(exam_bundle(*record, its_hash, for_veterinarian=True)),
            )
        assert marked_texts(made) == []


@pytest.mark.slow
def test_every_printed_sheet_is_english(both):
    clinic, device = both
    with marked():
        sheets = list(printed(clinic, device))
    assert len(sheets) > 15
    for pdf in sheets:
        text = "".join(pages_of(pdf))
        assert len(text) > 100
        assert not is_marked(text)


def printed(clinic, device):
    how = (PageSize.A4, font())
    for kept in list(records_of(device))[:6]:
        yield print_record(device, kept, *how)
        yield print_take_home(device, kept, *how)
    for exam, protocol in drafts_of(device):
        yield print_draft(device, exam, protocol, *how)
        yield print_kennel_card(device, exam.animal.animal_id, *how)
    rows = clinic.closed.everything()
    yield print_day_list(clinic, rows, "For the veterinarian", *how)
    groups = [one for one in everything_in(device) if one[0].animal.is_group]
    assert groups
    for group, protocol in groups:
        columns = columns_offered(protocol, Role.TECHNICIAN)
        yield print_round(device, group, protocol, columns, [], *how)
    yield print_blank_form(load_protocol("dog"), Scope.INTAKE, Setting.SHELTER, *how)
