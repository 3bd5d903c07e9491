"""A kennel card on a door: no owner, nobody who was bitten, and a code of one id."""

from dataclasses import replace

import pytest
import zxingcpp

from exam_app.domain.animal.signalment import Sex
from exam_app.domain.exam.visit import BiteHistory, Bitten, Care, GroupFacts
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.kennel_card import (
    bite_dates,
    is_by_veterinarian,
    kennel_card,
)
from exam_app.paper.kennel import kennel_sheet
from exam_app.paper.printing import print_kennel_card
from exam_app.paper.sheet import PageSize
from tests.filled_exams import Filler, leaves
from tests.generated_exams import begin
from tests.handover_places import new_place
from tests.past_exams import BRAMBLE, VISITS, exam_of, keep_visits
from tests.printed import SIZES, font, images_of, is_grey, missing, pages_of, words_of

# What people tell of themselves or of others, and what is the veterinarian's.
OTHERS = (
    "private_notes",
    "presentation",
    "plan",
    "samples",
    "people",
    "photos",
    "bite.bit_or_scratched",
    "bite.examiner_bitten",
    "bite.examiner_name",
    "bite.first_aid",
    "bite.washed",
    "bite.reported",
    "bite.rabies_concern",
    "bite.bitten.who",
    "bite.bitten.name",
    "bite.bitten.told",
    "bite.bitten.first_aid",
)


def housed():
    exam = begin("dog", Scope.INTAKE, Sex.FEMALE, 5).exam
    bitten = (
        Bitten("Mrs Invented, the owner", "2026-11-20 14:00"),
        Bitten("left hand", "2026-11-21 09:10", name="Jo Wick", is_examiner=True),
    )
    bite = BiteHistory(quarantine="until 2026-11-30").with_blocks(bitten)
    exam = record_visit(exam, bite)
    care = Care("run 4, cough", "from 20:00", "tablets at 08:00 and 20:00")
    exam = record_visit(exam, care)
    animal = replace(exam.animal, tag="K-17", behaviour="takes food from the hand")
    return replace(exam, animal=animal, group=GroupFacts(feed="dry food, twice a day"))


@pytest.mark.parametrize("size", SIZES)
def test_card_says_dates_of_bites_feeding_and_handling_and_no_person(size):
    exam = housed()
    pdf = kennel_sheet([exam], size, font(), "Invented shelter · 555 0100")
    wanted = (
        "2026-11-20 14:00",
        "2026-11-21 09:10",
        "quarantine: until 2026-11-30",
        "ISOLATION: run 4, cough",
        "NOTHING BY MOUTH: from 20:00",
        "tablets at 08:00 and 20:00",
        "takes food from the hand",
        "dry food, twice a day",
        "K-17",
        exam.exam_id,
    )
    assert missing(wanted, pdf) == []
    printed = words_of(pdf)
    assert not [w for w in ("Mrs", "owner", "Wick", "hand;", "left") if w in printed]
    assert len(pages_of(pdf)) == 1
    assert all(map(is_grey, images_of(pdf)))


@pytest.mark.parametrize("turn", range(0, 12, 2))
def test_paper_says_every_line_of_the_screens_card_and_that_one_names_nobody(turn):
    for exam in (housed(), Filler(turn).exam()):
        seen = exam.is_closed and is_by_veterinarian(exam)
        lines = kennel_card(exam, was_seen_by_veterinarian=seen)
        printed = kennel_sheet([exam], PageSize.A4, font())
        assert missing([text for _, text in lines], printed) == []
        said = str(lines)
        who = [block.who for block in exam.bite.blocks if block.who]
        assert who
        assert [one for one in who if one in said] == []


@pytest.mark.reference
@pytest.mark.parametrize("size", SIZES)
def test_code_on_the_card_is_the_id_of_the_exam_and_nothing_else(size):
    """Read off the drawn page by ZXing."""
    exam = housed()
    (page,) = images_of(kennel_sheet([exam], size, font()), 2)
    found = zxingcpp.read_barcodes(page)
    assert [code.text for code in found] == [exam.exam_id]


@pytest.mark.parametrize("turn", range(0, 12, 2))
def test_no_private_note_and_no_person_of_a_full_exam_is_on_it(turn):
    exam = Filler(turn).exam()
    printed = words_of(kennel_sheet([exam], PageSize.A4, font()))
    named = [(".".join(path), leaf) for path, leaf, _ in leaves(exam)]
    kept = [leaf for name, leaf in named if name.startswith(OTHERS)]
    words = [leaf for leaf in kept if isinstance(leaf, str) and leaf.startswith("q")]
    assert len(words) > 20
    assert [word for word in words if word in printed] == []


def test_bite_of_an_unknown_day_says_so():
    exam = record_visit(housed(), BiteHistory(bit_or_scratched="a child"))
    assert bite_dates([exam]) == ("date not said",)
    assert bite_dates([begin("dog", Scope.INTAKE, Sex.FEMALE, 5).exam]) == ()


async def test_card_of_a_kept_animal_is_that_of_its_newest_exam(tmp_path):
    place = await new_place(tmp_path / "device", "Tablet", "device")
    keep_visits(place.vault)
    newest = exam_of(VISITS[-1], len(VISITS) - 1)
    card = (place.vault, BRAMBLE.animal_id, PageSize.A4, font())
    assert missing([newest.exam_id, BRAMBLE.name], print_kennel_card(*card)) == []
    nobody = print_kennel_card(place.vault, "9" * 32, PageSize.A4, font())
    assert nobody is None
    place.vault.close()
