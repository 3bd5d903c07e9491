"""What a record says stands in every form of it, with the same side, size and unit.

Exams are made by chance (``generated_exams``); what is looked for is taken from the
exam's own values, never from the words of another form.
"""

import csv
import io
import json
from collections.abc import Iterator
from functools import cache
from random import Random

import pytest

from exam_app.domain.animal.signalment import Sex
from exam_app.domain.exam.closing import gaps
from exam_app.domain.exam.photographs import settled_photos
from exam_app.domain.measure.conversion import plain_number
from exam_app.domain.protocol.protocol import split_key
from exam_app.domain.wording.written_record import write_record
from exam_app.export.fhir import as_json, exam_bundle
from exam_app.export.fhir_r5 import as_r5
from exam_app.export.record_json import record_json
from exam_app.export.tables import as_csv, exam_rows
from exam_app.paper.record import RecordFacts, record_sheet
from exam_app.paper.sheet import PageSize
from tests.exam_samples import PROTOCOL
from tests.filled_exams import Filler, leaves
from tests.generated_exams import SCOPES, SPECIES, begin, drive_on, finish
from tests.printed import font, squeezed, words_of

HASH = "ab" * 32
EXAMS = 40


def lines_of_text(exam, protocol) -> Iterator[str]:
    yield from write_record(exam, protocol).as_text().splitlines()


def lines_of_json(exam, protocol) -> Iterator[str]:
    told = json.loads(record_json(exam, protocol, HASH, bytes(16)))
    parts = {part["key"]: part for part in told["parts_in_words"]}
    for key, region in told["exam"]["regions"].items():
        label = parts[key]["label"]
        yield f"{label}: {region['reason']} {region['remark']}"
        for struck in region["struck"]:
            yield f"{label}: {struck['text']}: {struck['reason']}"
        for found in region["findings"]:
            yield f"{label}: {json.dumps(found, ensure_ascii=False)}"
    for vital in told["vitals_in_words"]:
        entry = told["exam"]["vitals"][vital["vital_id"]]
        yield f"{vital['label']}: {json.dumps(entry, ensure_ascii=False)}"
    for photo in told["exam"]["photos"]:
        yield json.dumps(photo, ensure_ascii=False)
    yield told["exam"]["remark"]


def lines_of_csv(exam, protocol) -> Iterator[str]:
    content = as_csv(exam_rows(exam, protocol, is_whole=True)).decode("utf-8-sig")
    for row in csv.DictReader(io.StringIO(content, newline="")):
        said = (row[name] for name in ("item", "value", "unit", "words", "call"))
        yield " ".join(said)


def lines_of_fhir_r4(exam, protocol) -> Iterator[str]:
    yield from lines_of_bundle(exam_bundle(exam, protocol, HASH))


def lines_of_fhir_r5(exam, protocol) -> Iterator[str]:
    yield from lines_of_bundle(as_r5(exam_bundle(exam, protocol, HASH)))


def lines_of_bundle(made):
    bundle = json.loads(as_json(made))
    for entry in bundle["entry"]:
        resource = entry["resource"]
        if resource["resourceType"] == "Composition":
            # The record as text would answer for every part of it.
            resource = {**resource, "section": []}
        resource.pop("text", None)
        yield json.dumps(resource, ensure_ascii=False)


def lines_of_pdf(exam, protocol) -> Iterator[str]:
    """Yield the lines of the record that PDFium reads off the sheet, word for word."""
    written, printed = write_record(exam, protocol), words_of(sheet_of(exam, protocol))
    lines = [*written.headline, *(one for p in written.sections for one in p.lines)]
    yield from (line for line in lines if squeezed(line) in printed)


def sheet_of(exam, protocol):
    facts = RecordFacts(write_record(exam, protocol), exam, protocol)
    return record_sheet(facts, PageSize.A4, font())


FORMS = {
    "text": lines_of_text,
    "pdf": lines_of_pdf,
    "json": lines_of_json,
    "csv": lines_of_csv,
    "fhir r4": lines_of_fhir_r4,
    "fhir r5": lines_of_fhir_r5,
}


def of_parts(exam) -> Iterator[tuple[str, ...]]:
    for key, entry in exam.regions.items():
        for found in entry.findings:
            yield from of_find(found, found.side or split_key(key)[1])
        if entry.remark:
            yield (entry.remark,)
        for struck in entry.struck:
            yield (struck.text, struck.reason)


def of_find(found, side):
    yield (found.words, side)
    if found.mark:
        yield (str(found.mark.number), side)
    sizes = (found.lump.size, found.lump.second_size) if found.lump else ()
    for size in filter(None, sizes):
        for one in size.dimensions:
            yield (found.words, plain_number(one.value), one.unit)


def of_vitals(exam, protocol):
    for vital_id, entry in exam.vitals.items():
        vital = protocol.vital(vital_id)
        if entry.reading and vital.measure:
            printed = vital.measure.label_of(entry.reading.unit)
            yield (plain_number(entry.reading.value), (printed, entry.reading.unit))
        if entry.flag:
            value, _, level = entry.flag.summary.partition(": ")
            yield (level or value,)


def facts(exam, protocol):
    """Yield what must stand together in one line of each form."""
    yield from of_parts(exam)
    yield from of_vitals(exam, protocol)
    for gap in gaps(exam, protocol):
        is_vital = gap.startswith("vital:")
        entry = exam.vital(gap.partition(":")[2]) if is_vital else exam.entry(gap)
        yield (entry.reason,)
    for photo in settled_photos(exam):
        yield (photo.caption, photo.side)
    yield (exam.remark,)


def holds(line, fact):
    """Whether every word of a fact stands in a line, as a word or as JSON writes it.

    A line may begin a sentence with a word that stands in the middle of another.
    """
    said = line.casefold()
    return all(
        any(word.casefold() in said for one in words for word in (one, as_in_json(one)))
        for words in ((one,) if isinstance(one, str) else one for one in fact)
    )


def as_in_json(word):
    return json.dumps(word, ensure_ascii=False)[1:-1]


@cache
def exams_made():
    """Return exams made by chance, each with its protocol: the same for every form."""
    chance, made = Random(5), []
    while len(made) < EXAMS:
        species, scope = chance.choice(SPECIES), chance.choice(SCOPES)
        drive = begin(species, scope, chance.choice(tuple(Sex)), chance.getrandbits(60))
        drive_on(drive, chance.randrange(10, 60))
        if exam := finish(drive):
            made.append((exam, drive.protocol))
    return made


@pytest.mark.slow
@pytest.mark.parametrize("form", FORMS)
def test_every_statement_stands_in_every_form(form):
    checked = 0
    for exam, protocol in exams_made():
        lines = list(FORMS[form](exam, protocol))
        for fact in facts(exam, protocol):
            assert any(holds(line, fact) for line in lines), (form, fact)
            checked += 1
    assert checked > 400


# Everything that is written, the record as text within a FHIR document too.
WHOLE = {
    "text": lambda *of: write_record(*of).as_text(),
    "pdf": lambda *of: words_of(sheet_of(*of)),
    "json": lambda *of: record_json(*of, HASH, bytes(16)).decode(),
    "csv": lambda *of: as_csv(exam_rows(*of, is_whole=True)).decode(),
    "fhir r4": lambda *of: as_json(exam_bundle(*of, HASH)).decode(),
    "fhir r5": lambda *of: as_json(as_r5(exam_bundle(*of, HASH))).decode(),
}


@pytest.mark.slow
@pytest.mark.parametrize("form", WHOLE)
def test_private_notes_stand_in_no_form_where_a_remark_stands_in_each(form):
    looked_for = 0
    for turn in (0, 2, 4, 5, 6):  # Those that are closed and have a remark.
        exam = Filler(turn).exam()
        said = squeezed(WHOLE[form](exam, PROTOCOL))
        named = [(path[0], leaf) for path, leaf, _ in leaves(exam)]
        # A word of its own stands in each field.
        words = [
            leaf
            for name, leaf in named
            if name == "private_notes" and isinstance(leaf, str) and leaf[:1] == "q"
        ]
        assert [one for one in words if one in said] == []
        assert exam.remark
        assert exam.remark in said
        looked_for += len(words)
    assert looked_for > 3
