"""One word for one thing from sheet to sheet, and one short name for a source."""

import re
from dataclasses import replace
from decimal import Decimal

import pytest

from exam_app.app.forms import scan_form
from exam_app.domain.exam.region_states import NOT_EXAMINED_REASONS
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.measure.units import Reading
from exam_app.domain.protocol.intervals import applicable, flag_reading
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.domain.wording.written_record import write_record
from exam_app.protocols.loader import available, load_protocol
from exam_app.ui.region.region import StrikePart
from tests.small_dog import new_exam

PROTOCOLS = [load_protocol(name).protocol for name in available()]
# What else is said for an animal that will not have it, or for danger to the hands.
SAID_OTHERWISE = re.compile(
    r"toler|not allowed|resist|not safe|danger|reluctant|would not let", re.IGNORECASE
)
WEB = re.compile(r"https?:|www\.|\.(?:com|org|net|edu|gov|ca|uk)\b", re.IGNORECASE)


def reasons_offered():
    """Yield (sheet, reason) of every sheet that offers a reason."""
    code = {
        "a claim that was not seen": StrikePart.REASONS,
        "a part not examined": NOT_EXAMINED_REASONS,
        "a chip scan": scan_form.REASONS,
    }
    for protocol in PROTOCOLS:
        for vital in protocol.vitals:
            sheet = f"{protocol.protocol_id}, {vital.vital_id}"
            code[sheet] = vital.not_done_reasons
    yield from ((sheet, reason) for sheet, all_ in code.items() for reason in all_)


def test_every_sheet_says_refused_and_unsafe_in_the_same_words():
    other = [pair for pair in reasons_offered() if SAID_OTHERWISE.search(pair[1])]
    assert other == []
    for reasons in (StrikePart.REASONS, NOT_EXAMINED_REASONS):
        assert {"refused", "unsafe"} <= set(reasons)


def flags_of(protocol):
    """Yield the flags of every combination of stage, setting and state."""
    for vital in protocol.vitals:
        states = {s for row in protocol.intervals for s in row.states} | {""}
        measure = vital.measure
        for stage in protocol.life_stages if measure else ():
            for setting in ("clinic", "farm", "shelter", "home"):
                for state in sorted(states):
                    about = measure.measure_id, stage.stage_id, setting, state
                    rows = applicable(protocol.intervals, *about)
                    if rows:
                        titles = protocol.source_titles()
                        yield (
                            rows,
                            flag_reading(Decimal(39), measure, rows, None, titles),
                        )


@pytest.mark.parametrize("protocol", PROTOCOLS, ids=lambda p: p.protocol_id)
def test_flag_names_each_source_once_by_a_short_name_and_leaves_none_out(protocol):
    titles = protocol.source_titles()
    count = 0
    for rows, flag in flags_of(protocol):
        count += 1
        assert not WEB.search(flag.text), flag.text
        for source_id in {name for row in rows for name in row.every_source()}:
            # One that disagrees is named as well as one that agrees.
            assert flag.text.count(titles[source_id]) == 1, flag.text
    assert count


def test_record_names_a_source_beside_the_value_and_not_above_it_once_more():
    protocol = load_protocol("dog").protocol
    vital = protocol.vital("temperature")
    exam = new_exam()
    exam = replace(exam, animal=replace(exam.animal, species="dog"))
    rows = [row for row in protocol.intervals if "temp" in row.measure_id][:3]
    assert rows
    titles = protocol.source_titles()
    flag = flag_reading(Decimal("45"), vital.measure, rows, None, titles)
    assert flag.level is FlagLevel.ABOVE
    hot = VitalEntry(reading=Reading("45", "degC", Decimal(45)), flag=flag)
    text = write_record(replace(exam, vitals={"temperature": hot}), protocol).as_text()
    attention, _, below = text.partition("\n\nANIMAL")
    assert "Temperature: 45" in attention
    assert "above" in attention
    for title in {titles[row.source_id] for row in rows}:
        assert title not in attention
        assert below.count(title) == 1
