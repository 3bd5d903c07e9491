"""No measured limit of an urgent sign without the line of a source that prints it.

``trigger_limits.toml`` holds the lines. A band between two of them, as a fever under
the temperature at which cooling starts, ends at the other limit's next step.
"""

import re
import tomllib
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from pathlib import Path

import pytest

from exam_app.protocols.loader import available, load_protocol
from tests.danger_table import source_rows

FILE = Path(__file__).parents[1] / "trigger_limits.toml"
NUMBER = re.compile(r"\d+(?:\.\d+)?")


@cache
def lines():
    return tomllib.loads(FILE.read_text("utf-8"))


def limits_of(species):
    """Return every limit of a measured value as (vital id, side, number)."""
    protocol = load_protocol(species).protocol
    found = {}
    for sign in protocol.urgent_signs:
        for trigger in sign.every_trigger():
            vital = protocol.vital(trigger.vital_id)
            if vital is None or vital.measure is None:
                continue
            ends = {"below": trigger.below, "above": trigger.above}
            for side, end in ends.items():
                # The upper end of a band is where another sign begins.
                if end and not (side == "below" and trigger.above):
                    found[vital.vital_id, side, end] = vital.measure
    return found


def printed_numbers(line):
    """Return the numbers that the source's words hold, Fahrenheit also in Celsius."""
    row = source_rows().get(line.get("row", ""), {})
    words = line.get("printed") or f"{row.get('sign', '')} {row.get('limit', '')}"
    numbers = {Decimal(text) for text in NUMBER.findall(words)}
    in_celsius = {
        ((number - 32) * 5 / 9).quantize(Decimal("0.1"), ROUND_HALF_UP)
        for number in numbers
        if 80 < number < 120
    }
    return numbers | in_celsius


def named(species):
    return {
        (line["vital"], side, line[side]): line
        for line in lines().get(species, ())
        for side in ("below", "above")
        if side in line
    }


@pytest.mark.reference
@pytest.mark.parametrize("species", available())
def test_every_measured_limit_has_the_line_that_prints_it(species):
    assert limits_of(species).keys() - named(species) == set()


@pytest.mark.reference
@pytest.mark.parametrize("species", available())
def test_every_line_holds_the_number_of_its_limit(species):
    limits = limits_of(species)
    for limit, line in named(species).items():
        assert limit in limits, f"{limit} is no limit of {species} any more"
        number = Decimal(line.get("number", limit[2]))
        assert number in printed_numbers(line), f"{number} is not printed: {line}"
        assert abs(number - Decimal(limit[2])) <= limits[limit].precision, line
        assert "row" in line or (line["printed"] and line["title"] and line["year"])


def test_lines_are_of_species_that_are_there():
    assert set(lines()) <= set(available())
