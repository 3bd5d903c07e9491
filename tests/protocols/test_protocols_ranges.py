"""Which published rows stand far off the others, and which spans nobody printed.

Both lists are written from the sources and from the notes beside the rows; a row that
joins either, in a protocol or here, fails until the other has it too.
"""

import re

import pytest

from exam_app.domain.protocol.intervals import COMPUTED, applicable, flag_reading
from exam_app.protocols.loader import available, load_protocol
from tests.published_rows import compared_together, flag

# Species, row, and the sources whose printed figures were joined.
WORKED_OUT = {
    # Small dogs 70 to 120, large dogs 60 to 120, in one table.
    ("dog", "heart_rate_adult_triage"): ("merck_triage",),
    # The handbook's adult range; two texts give puppies adult values.
    ("dog", "temperature_juvenile_span"): ("dohvh", "paed_notes", "dvm360_fading"),
    # 210 to 220, and 180 to 200.
    ("dog", "heart_rate_nursling"): ("sacn5", "paed_notes"),
    # 160 to 200, 230 to 240, 180 to 200, about 220.
    ("dog", "heart_rate_newborn"): ("dohvh", "sacn5", "paed_notes", "dvm360_fading"),
    # 50 to 70, and 90 to 120.
    ("horse", "heart_rate_foal"): ("cooranbong", "uky_dwyer"),
    # 20 to 40, 30 to 40, 60 to 80.
    ("horse", "respiratory_rate_newborn"): ("peq", "foalnotes", "newfoal"),
    # 20 to 30, and 32 to 58.
    ("pig", "respiratory_rate_growing"): ("duncanson_pig", "iasri"),
}
FAR_OFF = {
    # 36.7 is far below every other low end (37.8 and more).
    ("cattle", "temperature_adult_beef"),
    # 26 to 50 beside 10 to 30 and 15 to 30.
    ("cattle", "respiratory_rate_adult_dairy"),
    # 20 to 34 beside 12 to 20 and 9 to 20: most healthy sheep would be slow.
    ("sheep", "respiratory_rate_adult_iasri"),
    # 38 to 39 is the moderate cold of the other source.
    ("sheep", "temperature_newborn_henderson"),
    # From 37.4, inside the group of 37.9 and less in which more rabbits died.
    ("rabbit", "temperature_adult_measured"),
    # Recalled from 200; both that were read begin at 230.
    ("guinea_pig", "heart_rate_adult_recalled"),
}


def rows():
    for species in available():
        for row in load_protocol(species).protocol.intervals:
            yield species, row


@pytest.mark.reference
def test_spans_that_were_worked_out_here_say_so_and_name_every_source():
    found = {
        (species, row.interval_id): row.every_source()
        for species, row in rows()
        if row.provenance == COMPUTED
    }
    assert found == WORKED_OUT


@pytest.mark.reference
def test_rows_far_off_the_others_are_marked_and_no_other_is():
    found = {(species, row.interval_id) for species, row in rows() if row.far_off}
    assert found == FAR_OFF


def test_no_row_that_calls_itself_read_or_recalled_was_joined_or_worked_out():
    words = ("span of", "joined", "worked out", "computed", "mean ±", "+/-")
    telling = [
        (species, row.interval_id)
        for species, row in rows()
        if row.provenance != COMPUTED and any(word in row.note for word in words)
    ]
    assert telling == []


def test_row_far_off_always_has_another_row_beside_it():
    for species, row in rows():
        if not row.far_off:
            continue
        beside = applicable(
            load_protocol(species).protocol.intervals,
            row.measure_id,
            row.life_stages[0],
            next(iter(row.settings), "farm"),
            next(iter(row.states), ""),
        )
        assert any(not other.far_off for other in beside), row.interval_id


@pytest.mark.reference
@pytest.mark.parametrize(
    ("species", "measure_id", "value", "life_stage", "state", "summary"),
    [
        (
            "cattle",
            "temperature",
            "37.0",
            "adult",
            "",
            "37.0 °C: below 2 of 3 published ranges, inside one far off",
        ),
        (
            "cattle",
            "respiratory_rate",
            "45",
            "adult",
            "resting",
            "45/min: above 2 of 3 published ranges, inside one far off",
        ),
        (
            "sheep",
            "respiratory_rate",
            "30",
            "adult",
            "resting",
            "30/min: above 2 of 3 published ranges, inside one far off",
        ),
        (
            "rabbit",
            "temperature",
            "37.6",
            "adult",
            "",
            "37.6 °C: below 4 of 5 published ranges, inside one far off",
        ),
        (
            "goat",
            "respiratory_rate",
            "32",
            "adult",
            "resting",
            "32/min: inside 1 of 3 published ranges, above 2",
        ),
    ],
)
def test_flag_counts_the_ranges_that_hold_a_value_and_those_that_do_not(
    species, measure_id, value, life_stage, state, summary
):
    found = flag(species, measure_id, value, life_stage, "farm", state)
    assert found.summary == summary


def test_no_flag_names_a_source_twice_or_says_within_where_a_range_says_otherwise():
    tried = 0
    for species, measure, compared in compared_together():
        protocol = load_protocol(species).protocol
        for end in {end for row in compared for end in (row.low, row.high) if end}:
            found = flag_reading(end, measure, compared, None, protocol.source_titles())
            tried += 1
            for source in protocol.sources:
                assert found.text.count(source.title) <= 1, found.text
            held = not re.search(r"\b(above|below) ", "\n".join(found.lines), re.I)
            is_all = "inside the published" in found.summary or any(
                word in found.summary for word in ("inside both", "inside all")
            )
            assert held == is_all, found.text
            assert "within" not in found.text
    assert tried > 300
