"""An animal's history read from a store: all of its records, once, and in words."""

import json
from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace

import pytest

from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.app.queries import history as queries
from exam_app.app.queries.animals import last_time
from exam_app.app.queries.clinic_history import lumps, wounds
from exam_app.app.queries.history import history_before, read_history
from exam_app.app.view.history_presenter import (
    elsewhere,
    found_before_words,
    legend,
    past_lines,
    since_words,
    spoken_plot,
    value_lines,
    waiting_words,
)
from exam_app.app.view.plot import MarkKind, plot_of
from exam_app.domain.animal.history import history_of
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Scope
from exam_app.exchange.exchange import Exchange
from exam_app.protocols.loader import load_content
from tests import past_exams
from tests.exam_samples import TECHNICIAN
from tests.handover_places import new_place
from tests.past_exams import (
    BRAMBLE,
    DOG,
    FIRST_DAY,
    VISITS,
    Visit,
    exam_of,
    keep_visits,
)

ANIMAL = BRAMBLE.animal_id
SKIN = DOG.protocol.region("skin_coat").label
OTHER = replace(BRAMBLE, animal_id="d" * 32)


@pytest.fixture
async def vault(tmp_path):
    place = await new_place(tmp_path / "device", "Tablet", "device")
    yield place.vault
    place.vault.close()


@pytest.fixture
def told(vault):
    keep_visits(vault)
    return read_history(vault, ANIMAL).history


def of(history, vital_id):
    (series,) = history.series_of(vital_id)
    return series


def test_every_closed_exam_of_an_animal_and_of_no_other_is_told(vault):
    keep_visits(vault)
    keep_visits(vault, (Visit(3, "7"), Visit(4, "8")), OTHER, first=50)
    read = read_history(vault, ANIMAL)
    exam_ids = [exam_of(visit, number).exam_id for number, visit in enumerate(VISITS)]
    assert [exam.exam_id for exam in read.history.exams] == exam_ids
    assert [row.exam_id for row in read.rows] == exam_ids[::-1]
    assert (read.waiting, read.unread) == (0, 0)


def test_an_animal_called_the_same_by_a_person_is_told_with_it(vault):
    keep_visits(vault)
    keep_visits(vault, (Visit(3, "7"),), OTHER, first=50)
    identity = Exchange(vault).identity
    assert len(read_history(vault, ANIMAL).rows) == len(VISITS)
    identity.propose_join(ANIMAL, OTHER.animal_id, "chip", 1)
    (asked,) = identity.joins()
    identity.decide_join(asked.key, "same", "Dr Mar Ondine", 2)
    for animal_id in (ANIMAL, OTHER.animal_id):
        told = read_history(vault, animal_id).history
        shown = [value.shown for value in of(told, "weight").values]
        assert shown[:2] == ["23.6 kg", "7 kg"]


def test_the_exam_that_is_looked_at_can_be_left_out(vault):
    keep_visits(vault)
    newest = exam_of(VISITS[-1], len(VISITS) - 1).exam_id
    told = read_history(vault, ANIMAL, but=newest).history
    assert of(told, "weight").values[-1].shown == "24.4 kg"


def test_a_record_is_verified_and_read_once_while_the_store_is_open(vault, monkeypatch):
    keep_visits(vault)
    read_history(vault, ANIMAL)

    def refused(*_given):
        pytest.fail("a record was read a second time")

    monkeypatch.setattr(queries, "record_reader", refused)
    assert len(read_history(vault, ANIMAL).history.exams) == len(VISITS)


def test_the_newest_are_read_first_and_the_others_when_asked_again(vault):
    keep_visits(vault)
    first = read_history(vault, ANIMAL, most=2)
    weights = of(first.history, "weight").values
    assert [value.shown for value in weights] == ["24.4 kg", "25.1 kg"]
    assert first.waiting == 3
    assert waiting_words(3, 0) == "3 earlier exams still being read."
    assert read_history(vault, ANIMAL, most=2).waiting == 1
    assert read_history(vault, ANIMAL, most=2).waiting == 0


def test_a_record_that_cannot_be_verified_is_counted_and_hides_no_other(vault):
    keep_visits(vault)
    vault.settings.put("signing_key", bytes(range(32)))
    read = read_history(vault, ANIMAL)
    assert (read.unread, read.history.exams) == (len(VISITS), ())
    assert "5 records cannot be read here" in waiting_words(0, read.unread)


def test_a_weight_says_its_change_and_another_value_only_what_was_before(told):
    assert since_words(of(told, "weight")) == (
        "0.7 kg more (+2.9 %) after 90 days. Before: 24.4 kg, 2026-05-02"
    )
    assert since_words(of(told, "heart_rate")) == "Before: 190/min, 2026-05-02"


def test_the_table_behind_a_plot_says_every_value_state_and_flag(told):
    lines = value_lines(of(told, "heart_rate").values)
    assert [line.title for line in lines][:2] == [
        "2026-07-31: 100/min",
        "2026-05-02: 190/min",
    ]
    assert lines[1].words == "resting · Above all 3 published ranges"
    estimate = value_lines(of(told, "weight").values)[2]
    assert estimate.title == "2026-02-21: about 24 kg (estimate)"


def test_a_screen_reader_hears_lowest_highest_newest_and_where_the_numbers_are(told):
    said = spoken_plot(of(told, "heart_rate"))
    for words in (
        "5 values from 2026-01-12 to 2026-07-31",
        "Lowest 88/min, 2026-01-12",
        "highest 190/min, 2026-05-02",
        "behind the button below",
    ):
        assert words in said


def test_a_plot_tells_values_estimates_and_what_is_outside_by_their_shapes(told):
    weight = plot_of(of(told, "weight").values, 300, 150, 14)
    kinds = [mark.kind for mark in weight.marks]
    assert kinds == [MarkKind.VALUE, MarkKind.ESTIMATE, MarkKind.VALUE, MarkKind.VALUE]
    words = legend(of(told, "weight"), weight)
    assert (weight.ranges, words) == ((), "In kg; dot: value; ring: estimate.")
    heart = plot_of(of(told, "heart_rate").values, 300, 150, 14)
    assert heart.marks[3].kind is MarkKind.OUTSIDE
    assert "square: outside all published ranges compared" in legend(
        of(told, "heart_rate"), heart
    )


def test_a_wound_is_listed_by_its_protocols_mark_and_own_words_with_the_rest(told):
    assert [line.text for line in told.wounds] == ["Wound, cut, back"]
    assert [line.text for line in told.found] == ["wound, fresh"]
    assert elsewhere(told).endswith("stands with the other finds.")
    assert elsewhere(replace(told, found=())) == ""


def test_the_clinic_reads_wounds_beside_a_record_unless_all_are_its_own(vault):
    history = told_of(vault, Visit(0, cut="back"), Visit(9, cut="rump"), Visit(12))
    first, second, third = (
        exam_of(visit, number)
        for number, visit in enumerate((Visit(0), Visit(9), Visit(12)))
    )
    lines = (
        f"2026-01-21, {SKIN}: Wound, cut, rump",
        f"2026-01-12, {SKIN}: Wound, cut, back",
    )
    assert wounds(history, third) == lines
    here = lines[0].replace(SKIN, f"{SKIN}, this record")
    assert wounds(history, second) == (here, lines[1])
    alone = history_of(history.exams[:1])
    assert wounds(alone, first) == ()
    assert wounds(alone, third) == lines[1:]
    assert lumps(alone, first) == ()


def test_a_record_whose_protocol_marks_no_wound_is_read_by_the_marks_of_ours(
    vault, monkeypatch
):
    whole = json.loads(DOG.content)
    for region in whole["regions"]:
        for term in region["terms"]:
            term.pop("is_wound", None)
    older = load_content(json.dumps({**whole, "format": 2}).encode())
    assert older.content_hash != DOG.content_hash
    monkeypatch.setattr(past_exams, "DOG", older)
    keep_visits(vault)
    read = read_history(vault, ANIMAL)
    assert read.unread == 0
    assert [line.text for line in read.history.wounds] == ["Wound, cut, back"]


SKIN_KEYS = DOG.protocol.region("skin_coat").answer_keys()


class Opened:
    """An exam that is open, as far as its past is asked for."""

    def __init__(self, exam):
        self.exam = exam


def told_of(vault, *visits):
    keep_visits(vault, visits)
    return read_history(vault, ANIMAL, most=None).history


@pytest.mark.slow
def test_a_part_says_what_was_found_there_last_however_long_ago(vault):
    later = (Visit(day, "24") for day in range(1, 50))
    history = told_of(vault, Visit(0, cut="back"), *later)
    assert len(history.exams) == 50
    said = found_before_words(history, SKIN_KEYS)
    assert said == "Before: Wound, cut, back, 2026-01-12"
    assert [line.text for line in history.found_in(SKIN_KEYS)] == ["Wound, cut, back"]


def test_a_part_in_which_nothing_was_ever_found_says_nothing(told):
    assert found_before_words(told, ("nose",)) == ""
    assert told.found_in(("nose",)) == ()


def test_of_several_exams_the_newest_find_is_said(vault):
    history = told_of(vault, Visit(0, cut="back"), Visit(9, wound="old", cut="rump"))
    said = found_before_words(history, SKIN_KEYS)
    assert said == "Before: wound, old; Wound, cut, rump, 2026-01-21"


def test_a_later_look_without_a_find_is_said_before_the_find(vault):
    history = told_of(vault, Visit(0, cut="back"), Visit(9), Visit(30, "24"))
    first, second, third = history.exams
    second = replace(second, looked_at=frozenset(SKIN_KEYS))
    history = history_of((first, second, third))
    assert found_before_words(history, SKIN_KEYS) == (
        "Before: no find noted 2026-01-21, before that Wound, cut, back, 2026-01-12"
    )


def test_a_find_that_is_asked_about_is_not_said_twice(vault):
    history = told_of(vault, Visit(0, cut="back"), Visit(9, wound="old"))
    newest = history.found_in(SKIN_KEYS)[-1]
    said = found_before_words(history, SKIN_KEYS, {newest.finding_id})
    assert said == "All that was found here before (2)"


def test_each_side_of_a_pair_says_its_own(vault):
    history = told_of(vault, Visit(0, cut="back"), Visit(9, wound="old"))
    left, right = "eyes.left", "eyes.right"
    first, second = history.exams
    at_left = replace(first.found[0], key=left)
    at_right = replace(second.found[0], key=right)
    first, second = (
        replace(first, found=(at_left,)),
        replace(second, found=(at_right,), looked_at=frozenset((left, right))),
    )
    said = found_before_words(history_of((first, second)), (left, right))
    assert said == (
        "Before: Left: no find noted 2026-01-21, before that Wound, cut, back, "
        "2026-01-12; Right: wound, old, 2026-01-21"
    )


def test_a_long_find_is_cut_between_words_and_whole_in_its_list(vault):
    place = "from the left shoulder over the ribs to the flank and down to the elbow"
    kinds = "fresh, as long as a hand"
    history = told_of(vault, Visit(0, cut=place, wound=kinds))
    said = found_before_words(history, SKIN_KEYS)
    shown = "wound, fresh, as long as a hand; Wound, cut, from the left"
    assert said == f"Before: {shown} \N{HORIZONTAL ELLIPSIS}, 2026-01-12"
    lines = past_lines(history.found_in(SKIN_KEYS))
    words = [f"Wound, cut, {place}", f"wound, {kinds}"]
    assert [line.words for line in lines] == words


@pytest.mark.slow
def test_an_exam_reads_what_is_known_from_before_it_of_any_age(vault):
    keep_visits(vault, (Visit(0, cut="back"), *(Visit(n) for n in range(1, 50))))
    order = ExamOrder(BRAMBLE, Scope.TECHNICIAN, Setting.CLINIC)
    protocol, now = DOG.protocol, Moment.from_datetime(FIRST_DAY + timedelta(90))
    exam = begin_exam(order, protocol, DOG.content_hash, TECHNICIAN, "e" * 32, now)
    history = history_before(vault, Opened(exam), Role.TECHNICIAN)
    assert len(history.exams) == 50
    assert found_before_words(history, SKIN_KEYS).endswith("2026-01-12")


@pytest.mark.slow
async def test_what_is_known_before_an_exam_is_read_once_and_then_not_waited_for(
    vault, monkeypatch
):
    keep_visits(vault, tuple(Visit(n, cut="back") for n in range(50)))
    order = ExamOrder(BRAMBLE, Scope.TECHNICIAN, Setting.CLINIC)
    protocol, now = DOG.protocol, Moment.from_datetime(FIRST_DAY + timedelta(90))
    exam = begin_exam(order, protocol, DOG.content_hash, TECHNICIAN, "e" * 32, now)
    editor, turns = Opened(exam), []

    class Reads:
        """A session, as far as it reads."""

        def __init__(self):
            self.vault = vault

        async def read(self, action):
            turns.append(action)
            return action()

    await queries.read_before(Reads(), editor, Role.TECHNICIAN)
    # Forty records, and then the ten older ones.
    assert len(turns) == 2
    monkeypatch.setattr(queries, "read_history", None)
    await queries.read_before(Reads(), editor, Role.TECHNICIAN)
    assert len(queries.history_before(vault, editor, Role.TECHNICIAN).exams) == 50
    assert len(turns) == 2


def test_a_plot_stays_in_its_frame_and_holds_what_it_shows_in_order(told):
    for series in told.series:
        plot = plot_of(series.values, 300, 150, 14)
        if plot is None:
            continue
        left, top, right, bottom = plot.frame
        assert all(left < mark.x < right for mark in plot.marks)
        assert all(top <= mark.y <= bottom for mark in plot.marks)
        assert all(top <= one.top < one.bottom <= bottom for one in plot.ranges)
        assert [m.x for m in plot.marks] == sorted(m.x for m in plot.marks)


def test_a_plot_of_grades_has_no_half_grades_beside_it(told):
    plot = plot_of(of(told, "body_condition").values, 300, 150, 14)
    assert [words for _, words in plot.heights] == ["5", "6"]


def test_a_higher_weight_stands_higher_and_a_longer_time_further_apart(told):
    marks = plot_of(of(told, "weight").values, 300, 150, 14).marks
    assert marks[0].y > marks[1].y > marks[2].y > marks[3].y
    # Days 0, 40, 110 and 200.
    across = marks[3].x - marks[0].x
    assert (marks[1].x - marks[0].x) / across == pytest.approx(40 / 200)
    assert (marks[2].x - marks[0].x) / across == pytest.approx(110 / 200)


def test_a_range_is_drawn_under_the_values_compared_with_it_and_no_others(told):
    plot = plot_of(of(told, "temperature").values, 300, 150, 14)
    assert plot.ranges
    one = of(told, "heart_rate").values
    alone = (one[0], replace(one[1], ranges=()), *one[2:])
    plot = plot_of(alone, 300, 150, 14)
    marks = plot.marks
    middle = (marks[0].x + marks[1].x) / 2
    ending = [found for found in plot.ranges if found.right == pytest.approx(middle)]
    assert len(ending) == len(one[0].ranges)


def test_one_value_or_words_alone_have_no_plot(told):
    heart = of(told, "heart_rate").values
    assert plot_of(heart[:1], 300, 150, 14) is None
    words = [replace(value, number=None) for value in heart]
    assert plot_of(words, 300, 150, 14) is None


def test_a_find_that_no_later_exam_was_asked_about_is_asked_however_old_it_is(vault):
    keep_visits(vault, (Visit(0, "23", wound="old"), *(Visit(n) for n in range(1, 12))))
    last = last_time(SimpleNamespace(vault=vault), ANIMAL)
    assert [one.summary for one in last.findings] == ["wound, old"]
    assert last.weight == "23 kg, 2026-01-12"


def test_dates_below_a_plot_are_shorter_where_large_text_has_no_room_for_two(told):
    weights = of(told, "weight").values
    normal, large = (plot_of(weights, 300, 150, font) for font in (14, 28))
    assert [words for _, words in normal.dates] == ["2026-01-12", "2026-07-31"]
    assert [words for _, words in large.dates] == ["2026-01", "2026-07"]
