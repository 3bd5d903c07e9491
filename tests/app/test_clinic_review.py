"""What the veterinarian reads first, and what the pairing screen says."""

import random
from dataclasses import replace
from itertools import pairwise

import pytest

from exam_app.app.queries.clinic_records import DeviceNow
from exam_app.app.view import clinic_pairing_presenter as pairing
from exam_app.app.view.clinic_review_presenter import (
    HEADINGS,
    Filter,
    Rank,
    ReadingList,
    days_of,
    filter_choices,
    key_of,
    next_to_read,
    rank_of,
    reading_groups,
    review_lines,
    review_title,
    summary,
)
from exam_app.exchange.pairings import Device
from exam_app.store.repositories.rows import ClosedExam


def row(exam_id="e1", **more):
    answered = "Everything in the scope of this exam was answered"
    usual = ClosedExam(
        exam_id=exam_id,
        name="Bramble",
        species="dog",
        scope="technician exam",
        closed="2026-11-25 10:00 +01:00",
        closed_by="Ines Corvo",
        headline=(answered,),
    )
    return replace(usual, **more)


# The order is the design's: urgent not told, urgent, bites, "veterinarian to look",
# outside published ranges, gaps, the rest.
ORDERED = (
    ({"urgency": "urgent not told", "gaps": 3}, Rank.URGENT_NOT_TOLD),
    ({"urgency": "urgent", "to_look": 2}, Rank.URGENT),
    ({"bite": "the examiner was bitten", "to_look": 1}, Rank.BITE),
    ({"to_look": 1, "flags": 2}, Rank.TO_LOOK),
    ({"flags": 1, "gaps": 1}, Rank.OUTSIDE),
    ({"gaps": 2}, Rank.GAPS),
    ({}, Rank.REST),
)


@pytest.mark.parametrize(("fields", "rank"), ORDERED)
def test_the_most_pressing_reason_places_a_record(fields, rank):
    assert rank_of(row(**fields)) is rank


def test_groups_stand_in_the_order_in_which_they_must_be_read():
    rows = [row(str(n), **fields) for n, (fields, _) in enumerate(reversed(ORDERED))]
    assert [*reading_groups(rows), Rank.ACKNOWLEDGED] == list(Rank)


def test_an_acknowledged_urgent_record_stands_below_an_unread_calm_one():
    urgent = row("read", urgency="urgent not told", acknowledged_by="Dr Mar Ondine")
    groups = reading_groups([urgent, row("calm")])
    assert [HEADINGS[rank] for rank in groups] == ["The rest", "Acknowledged"]
    assert next_to_read([urgent, row("calm")]) == "calm"


def test_nothing_is_left_to_read_once_everything_was_acknowledged():
    done = [row(acknowledged_by="Dr Mar Ondine")]
    assert next_to_read(done) == ""
    assert summary(done) == "Everything that arrived was acknowledged."


def test_of_two_equally_pressing_records_the_later_closed_one_is_read_first():
    early = row("early", closed="2026-11-24 09:00 +01:00")
    late = row("late", closed="2026-11-25 09:00 +01:00")
    (there,) = reading_groups([early, late]).values()
    assert [found.exam_id for found in there] == ["late", "early"]


def test_every_row_of_a_thousand_days_stands_in_exactly_one_place():
    draw = random.Random(7)
    rows = [
        row(
            str(number),
            urgency=draw.choice(["", "", "urgent", "urgent not told"]),
            to_look=draw.randint(0, 2),
            flags=draw.randint(0, 2),
            gaps=draw.randint(0, 2),
            acknowledged_by=draw.choice(["", "Dr Mar Ondine"]),
        )
        for number in range(1000)
    ]
    groups = reading_groups(rows)
    shown = [found.exam_id for there in groups.values() for found in there]
    assert sorted(shown, key=int) == [found.exam_id for found in rows]
    ranks = list(groups)
    assert all(before < after for before, after in pairwise(ranks))


def test_days_are_offered_newest_first():
    rows = [row("a"), row("b", closed="2026-11-24 09:00 +01:00"), row("c", closed="")]
    assert days_of(rows) == ("2026-11-25", "2026-11-24")


@pytest.mark.parametrize(
    ("wanted", "kept"),
    [
        (Filter(), "abc"),
        (Filter(day="2026-11-24"), "b"),
        (Filter(device="van"), "ac"),
        (Filter(place="farm"), "b"),
        (Filter(kind="cat"), "c"),
        (Filter(is_unread=True), "ab"),
        (Filter(words="flank LUMP"), "a"),
        (Filter(words="lump", day="2026-11-24"), ""),
    ],
)
def test_each_filter_and_the_search_leave_the_others_out(wanted, kept):
    rows = [
        row("a", device_id="van", setting="clinic", pressing=("Skin: lump, flank",)),
        row("b", setting="farm", closed="2026-11-24 09:00 +01:00"),
        row("c", device_id="van", species="cat", acknowledged_by="Dr Mar Ondine"),
    ]
    shown = [r for r in rows if wanted.keeps(r, "\n".join(r.pressing or ()))]
    assert "".join(r.exam_id for r in shown) == kept


def test_nothing_is_offered_to_filter_by_where_there_is_one_answer_only():
    rows = [row("a", device_id="van"), row("b", device_id="barn")]
    assert filter_choices(rows, {"van": "Van 2"}) == {
        "device": (("barn", "another device"), ("van", "Van 2"))
    }


def test_what_is_left_out_is_said_in_words():
    wanted = Filter(day="2026-11-24", device="van", kind="cat", is_unread=True)
    said = wanted.told({"van": "Van 2"})
    assert said == "2026-11-24 · Van 2 · cat · not acknowledged"


def three():
    return ReadingList.of([row("1", urgency="urgent"), row("2", to_look=1), row("3")])


def test_an_acknowledged_row_stays_where_it_was_and_its_group_counts_one_less():
    read = three().acknowledged(("1", ""), "Dr Mar Ondine")
    assert [one.exam_id for one in read.rows] == ["1", "2", "3"]
    assert three().heading(Rank.URGENT) == "Urgent (1)"
    assert read.heading(Rank.URGENT) == "Urgent (0)"
    assert read.row(("1", "")).acknowledged_by == "Dr Mar Ondine"


def test_next_is_the_next_that_nobody_acknowledged_and_begins_again_above():
    read = three().acknowledged(("2", ""), "Dr Mar Ondine")
    assert read.next_after(("", "")) == ("1", "")
    assert read.next_after(("1", "")) == ("3", "")
    assert read.next_after(("3", "")) == ("1", "")
    done = read.acknowledged(("1", ""), "X").acknowledged(("3", ""), "X")
    assert done.next_after(("3", "")) is None


def test_previous_is_the_row_above_whoever_acknowledged_it():
    read = three().acknowledged(("1", ""), "Dr Mar Ondine")
    assert read.before(("2", "")) == ("1", "")
    assert read.before(("1", "")) is None


def test_the_ends_of_a_fork_are_two_rows_and_one_of_them_is_acknowledged():
    ends = [row("1", is_fork=True, record_hash=h * 32) for h in ("ab", "cd")]
    first, second = map(key_of, ends)
    read = ReadingList.of(ends).acknowledged(first, "Dr Mar Ondine")
    assert not read.row(second).acknowledged_by
    assert read.next_after(first) == second


def test_a_bite_and_a_pending_recheck_are_said_in_the_line_before_the_findings():
    bitten = row(headline=("BITE OR SCRATCH: the examiner", "URGENT: Bloat"))
    lines = review_lines(bitten, "", ("URGENT Bloat: NOBODY TOLD",), "Gum colour")
    assert lines[:3] == (
        "Re-check asked for: Gum colour",
        "BITE OR SCRATCH: the examiner",
        "URGENT Bloat: NOBODY TOLD",
    )
    assert not any(line.startswith("URGENT:") for line in lines)


def test_a_line_says_the_headline_the_reasons_and_the_device_and_no_calm_sentence():
    lines = review_lines(row(to_look=1, flags=2, gaps=1, is_fork=True), "Van 2")
    assert (
        lines[0]
        == "1 finding for the veterinarian · 2 values outside a published range"
    )
    assert "from Van 2" in lines[1]
    assert "1 not done" in lines[1]
    assert "read both" in lines[-1]
    assert not any("Everything" in line for line in lines)


def test_a_bite_and_a_demo_are_named_in_the_title():
    title = review_title(row(bite="the examiner was bitten", is_demo=True))
    assert title == "Bramble · bite or scratch (dog) · demo"


def test_the_summary_counts_what_waits_and_what_presses():
    rows = [row("1", urgency="urgent"), row("2", to_look=1), row("3")]
    assert summary(rows) == (
        "3 records not acknowledged: 1 urgent, 1 for the veterinarian to look at"
    )
    assert summary([row()]) == "1 record not acknowledged"
    assert summary([]) == "Nothing has arrived yet."


@pytest.mark.parametrize(
    ("left_ms", "shown"),
    [(600_000, "10:00"), (59_999, "0:59"), (999, ""), (0, ""), (-5, "")],
)
def test_the_countdown_never_shows_more_than_is_left(left_ms, shown):
    assert pairing.countdown(1_000_000 + left_ms, 1_000_000) == shown


def test_an_expired_card_says_what_to_do():
    assert "show a new one" in pairing.countdown_words(0, 1)


@pytest.mark.parametrize(
    ("missing", "said"),
    [
        ((), ""),
        ((17,), "bundle 17 is missing"),
        ((17, 18, 19, 22), "bundles 17 to 19 and 22 are missing"),
        ((3, 9, 5), "bundles 3, 5 and 9 are missing"),
    ],
)
def test_missing_bundles_are_named_by_number(missing, said):
    assert pairing.missing_words(missing) == said


def test_six_words_are_numbered_since_their_order_counts():
    assert pairing.numbered(("apple", "river")) == ("1. apple", "2. river")


def test_a_revoked_device_shows_the_last_bundle_that_counts():
    keys = {"signing_key": bytes(32), "agreement_key": bytes(32)}
    device = Device(device_id="d", **keys, revoked_after=20)
    line = pairing.device_line(DeviceNow(device, 21, (17,)))
    assert line == "last bundle 21 · bundle 17 is missing · revoked after bundle 20"
    assert pairing.device_line(DeviceNow(replace(device, revoked_after=0))).endswith(
        "e 0"
    )


@pytest.mark.parametrize("typed", ["", "-1", "seventeen", "1.5"])
def test_a_last_good_bundle_must_be_a_number(typed):
    assert pairing.revoke_problem(typed)
    assert pairing.revoke_problem("17") == ""
