"""The printed form in a whole export: what stands on it, and when it is made anew.

Read back by pypdf; its pictures are compared with the JPEG that Pillow wrote.
"""

import asyncio
import hashlib
import io
from dataclasses import replace

import pypdf
import pytest

from exam_app.app.pictures.plain_jpeg import made_plain
from exam_app.domain.animal.signalment import Owner
from exam_app.domain.exam.visit import Photo, PrivateNote
from exam_app.paper.printing import PAPER
from exam_app.whole_export.contents import Wanted
from exam_app.whole_export.exporting import export_all
from tests.exam_samples import BY
from tests.handover_places import LATER, animal, new_place, small_exam
from tests.photographs import content_of, drawn
from tests.printed import missing, squeezed, words_of

OWNER = Owner("Ottilie Quandt", "555 0199")
BRAMBLE = animal("Bramble", is_demo=False)
PRIVATE = (PrivateNote("bruises of an old kind", BY),)


@pytest.fixture
def place(tmp_path):
    """A device with two records of one animal, the second with a photograph."""
    made = asyncio.run(new_place(tmp_path / "v", "Tablet", "field", is_demo=False))
    made.vault.settings.put("practice", "Invented practice")
    picture = made_plain(content_of(drawn(64, 48)))
    key = hashlib.sha256(picture).hexdigest()
    made.vault.photographs.add(small_exam("two").exam_id, picture)
    photos = (
        Photo(key, "the crusts", "nose", attribution=BY),
        Photo("ab" * 32, "one that is elsewhere", attribution=BY),
    )
    first = small_exam("one", of=BRAMBLE, private_notes=PRIVATE)
    made.close_exam(first, OWNER)
    made.close_exam(small_exam("two", of=BRAMBLE, photos=photos), OWNER)
    yield made
    made.vault.close()


def export(place, target, wanted=None):
    return asyncio.run(export_all(place.vault, target, LATER, wanted))


def sheets(target):
    """Return the printed form of each record by the start of its hash."""
    found = sorted(target.glob("records/*/*/record.pdf"))
    return {path.parent.name[-16:]: path.read_bytes() for path in found}


def sheet_of(place, target, name):
    exam_id = small_exam(name).exam_id
    (row,) = [r for r in place.vault.closed.everything() if r.exam_id == exam_id]
    return sheets(target)[row.record_hash[:16]], row


def test_every_line_of_the_text_stands_on_the_printed_form(place, tmp_path):
    export(place, tmp_path / "out")
    for folder in (tmp_path / "out").glob("records/*/*"):
        text = (folder / "record.txt").read_text("utf-8")
        lines = [line.lstrip("- ") for line in text.splitlines()]
        own = [line for line in lines if line and "signed record, record.cose" in line]
        wanted = [squeezed(line).casefold() for line in lines if line not in own]
        assert len(wanted) > 5
        # The text has its headings in capitals.
        printed = words_of((folder / "record.pdf").read_bytes()).casefold()
        assert [line for line in wanted if line not in printed] == []


def test_the_hash_and_the_practice_stand_on_it_and_the_photographs_that_are_here(
    place, tmp_path
):
    export(place, tmp_path / "out")
    pdf, row = sheet_of(place, tmp_path / "out", "two")
    wanted = [row.record_hash, "Invented practice", "the crusts", "one that is else"]
    assert missing(wanted, pdf) == []
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    placed = [one for page in pages for one in page["/Resources"]["/XObject"].values()]
    (image,) = {one.idnum: one.get_object() for one in placed}.values()
    assert (image["/Width"], image["/Height"]) == (64, 48)
    kept = next((tmp_path / "out" / "photographs").glob("*.jpg")).read_bytes()
    assert image._data == kept


def test_private_notes_and_owners_are_on_no_printed_form_whatever_was_asked(
    place, tmp_path
):
    for wanted in (None, Wanted(private_notes=True, owners=True)):
        export(place, tmp_path / "out", wanted)
        printed = "".join(words_of(pdf) for pdf in sheets(tmp_path / "out").values())
        assert "Bramble" in printed
        for word in ("bruises", "Quandt", "Ottilie", "0199"):
            assert word not in printed


def renamed(place):
    place.vault.settings.put("practice", "Another name")


def on_letter(place):
    place.vault.settings.put(PAPER, "letter")


def weighed_again(place):
    place.close_exam(small_exam("three", of=BRAMBLE))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("change", "written"), [(renamed, 2), (on_letter, 2), (weighed_again, 3)]
)
def test_a_printed_form_is_made_anew_where_what_stands_on_it_has_changed(
    change, written, place, tmp_path
):
    export(place, tmp_path / "out")
    assert export(place, tmp_path / "out").written == 0
    change(place)
    assert export(place, tmp_path / "out").written == written
    assert export(place, tmp_path / "out").written == 0


def test_a_record_of_another_animal_makes_no_printed_form_anew(place, tmp_path):
    export(place, tmp_path / "out")
    place.close_exam(small_exam("three", of=replace(BRAMBLE, animal_id="c" * 32)))
    assert export(place, tmp_path / "out").written == 1


def test_a_line_that_was_changed_makes_a_record_anew_and_breaks_nothing(
    place, tmp_path
):
    export(place, tmp_path / "out")
    (path, _) = sorted((tmp_path / "out").glob("records/*/*/made_from.txt"))
    whole = path.read_text("utf-8")
    lines = whole.splitlines(keepends=True)
    (key,) = [line for line in lines if line.startswith("signed by")]
    worse = (
        whole.replace(key, ""),
        whole.replace(key, "signed by nobody\n"),
        whole.replace(key, "signed by \n"),
        whole.replace(key, key * 2),
        whole.replace(key, key.replace("device", "computer")),
        "",
    )
    for said in worse:
        path.write_text(said, "utf-8")
        assert export(place, tmp_path / "out").written == 1
        assert path.read_text("utf-8") == whole
