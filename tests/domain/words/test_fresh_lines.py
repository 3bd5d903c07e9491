"""What examiners type or dictate: every expectation names what its protocol has.

The lines and the form of their expectations are told in ``fresh_lines.toml``. Nothing
here reads a line: what is expected of it is held against the protocol of its species,
and what may be sure against the line's own words, since a unit, a side, the length of a
count and the end of a scale are never guessed.
"""

import re
import tomllib
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

from exam_app.domain.exam.region_states import NOT_EXAMINED_REASONS
from exam_app.domain.exam.vitals import RateState
from exam_app.domain.measure.counting import WINDOWS
from exam_app.domain.measure.units import is_plausible, parse_reading
from exam_app.domain.protocol.protocol import Scope, VitalKind
from exam_app.protocols.loader import available, load_protocol

HERE = Path(__file__).parent
FILES = ("fresh_lines.toml", "held_back_lines.toml")
KEYS = {"t", "species", "scope", "sure", "asked"}
SCOPES = {Scope.INTAKE, Scope.TECHNICIAN, Scope.VETERINARIAN}
LENGTHS = ("mm", "cm", "inch")

VALUE = re.compile(
    r"^(?P<ids>[a-z0-9_|]+)=(?P<value>[^\[]+?)(?: \[(?P<details>.+)\])?$"
)
NOT_DONE = re.compile(r"^(?P<id>[a-z0-9_.]+) not done: (?P<reason>.*)$")
FIND = re.compile(
    r"^(?P<keys>[a-z_.|]+) (?P<no>no )?(?P<term>[a-z0-9_]+)"
    r"(?: (?P<grade>[a-z0-9.]+))?(?: \[(?P<details>.+)\])?$"
)
COUNT = re.compile(r"^(?P<count>\d+) in (?P<seconds>\d+)$")
SIZE = re.compile(r"^\d+(?:\.\d+)?(?: x \d+(?:\.\d+)?)* (?P<unit>[a-z]+)$")

# How a side is told: whole words, the Latin pairs in capitals; common practice,
# no source.
SIDE_WORDS = {
    "left": {"left", "l", "lf", "lh", "OS", "AS"},
    "right": {"right", "r", "rf", "rh", "OD", "AD"},
}
BOTH_WORDS = {"both", "OU", "AU"}
NUMBER_WORD = re.compile(
    r"\b(one|two|three|four|five|six|seven|eight|nine|twelve|thirteen|sixteen|hundred"
    r"|(twen|thir|six|nine)ty)\b"
)
# Words of time, hearsay, condition and correction, of doubt and of estimate.
SETS_ASIDE = re.compile(
    r"\b(yesterday|today|since|ago|last|this (morning|week)|owner|farmer|shepherd"
    r"|keeper|trainer|if|wait|scratch that|correction|no \d+|est|about|i think)\b|\?",
    re.IGNORECASE,
)


@cache
def lines_of(name):
    """Return the lines of a file, in order, as tables."""
    return tomllib.loads((HERE / name).read_text("utf-8"))["phrase"]


def every_line():
    for name in FILES:
        for number, line in enumerate(lines_of(name), 1):
            yield pytest.param(line, id=f"{name[:5]}-{number:03}-{line['species']}")


def spoken_words(text):
    """Return the words of a line, small, a number and its unit set apart."""
    apart = re.sub(r"(?<=\d)(?=[A-Za-z])|(?<=[A-Za-z])(?=\d)", " ", text)
    return set(re.findall(r"[a-z]+|\d+(?:\.\d+)?|%", apart.casefold()))


def says_numbers(line, value):
    """Hold that each number was typed, or that the line has numbers in words."""
    words = spoken_words(line["t"])
    typed = set(re.findall(r"\d+(?:\.\d+)?", value))
    hold(
        typed <= words or NUMBER_WORD.search(line["t"].casefold()),
        f"{value}: not a number of the line",
    )


class WrongExpectationError(AssertionError):
    """An expectation that names what is not there, or takes what was not said."""


def hold(claim, reason):
    if not claim:
        raise WrongExpectationError(reason)


def check(line, item, *, is_sure):
    """Hold one expectation against the protocol, and a sure one against the line."""
    protocol = load_protocol(line["species"]).protocol
    hold(not is_sure or "|" not in item, f"{item}: one of two is never sure")
    if match := VALUE.match(item):
        for vital_id in match["ids"].split("|"):
            vital = protocol.vital(vital_id)
            hold(vital, f"{item}: no such vital")
            check_value(line, vital, match, is_sure=is_sure)
        return
    if match := NOT_DONE.match(item):
        check_not_done(line, protocol, match, is_sure=is_sure)
        return
    match = FIND.match(item)
    hold(match, f"{item}: not in the form of an expectation")
    for key in match["keys"].split("|"):
        check_part(line, protocol, key, match, is_sure=is_sure)


def check_value(line, vital, match, *, is_sure):
    value, details = match["value"], match["details"]
    if is_sure:
        in_scope(line, vital.scopes, vital.vital_id)
    states = tuple(RateState) if vital.kind is VitalKind.RATE else ()
    allowed = (*vital.sites, *states)
    hold(not details or details in allowed, f"{vital.vital_id}: not measured {details}")
    if vital.kind is VitalKind.GRADE:
        check_grade(line, vital, value, is_sure=is_sure)
    elif value in {choice.value for choice in vital.choices}:
        return
    elif counted := COUNT.match(value):
        check_count(line, vital, counted, is_sure=is_sure)
    else:
        hold(vital.measure, f"{vital.vital_id}: no choice {value}")
        check_reading(line, vital.measure, value.removesuffix(" +"), is_sure=is_sure)


def check_grade(line, vital, value, *, is_sure):
    scale = load_protocol(line["species"]).protocol.scale(vital.scale_id)
    values = [grade.value for grade in scale.grades]
    hold(value in values, f"{vital.vital_id}: no grade {value}")
    is_number = values[-1].isdigit()
    if is_sure and is_number:
        says_numbers(line, value)
        names_end(line, values)


def names_end(line, values):
    """Hold that a line says the end of the scale, as 5/9 or five out of nine."""
    end = next(value for value in reversed(values) if value.isdigit())
    words = {"5": "five", "6": "six", "9": "nine"}
    said = rf"(?:/|\bof )\s*(?:{end}|{words.get(end, end)})\b"
    hold(re.search(said, line["t"]), f"the scale's end, {end}, is not said")


def check_count(line, vital, counted, *, is_sure):
    seconds = int(counted["seconds"])
    hold(vital.kind is VitalKind.RATE, f"{vital.vital_id}: is not counted")
    if not is_sure:
        hold(seconds in (0, *WINDOWS), f"{seconds} s is no length of a count")
        return
    hold(seconds in WINDOWS, f"{seconds} s is no length of a count")
    said = {"s", "sec", "secs", "second", "seconds", "minute", "minutes"}
    hold(spoken_words(line["t"]) & said, "the length of the count is not said")
    says_numbers(line, counted["count"])


def check_reading(line, measure, value, *, is_sure):
    """Hold a number and its unit; what is asked may lack the unit."""
    reading = parse_reading(value, measure.unit, measure)
    if not is_sure:
        return
    hold(is_plausible(reading, measure), f"{value}: beyond the typing guard")
    hold(value.split(" ", 1)[1:], f"{value}: no unit")
    says_numbers(line, value)
    if not measure.counts:
        unit = measure.unit_named(reading.unit)
        spoken = unit.every_word()
        packed = "".join(line["t"].casefold().split())
        is_said = spoken & spoken_words(line["t"]) or any(
            "/" in word and word in packed for word in spoken
        )
        hold(is_said, f"{value}: its unit is not said")


def check_not_done(line, protocol, match, *, is_sure):
    vital = protocol.vital(match["id"])
    region = protocol.region(match["id"].partition(".")[0])
    hold(vital or region, f"{match['id']}: neither a vital nor a part")
    offered = vital.not_done_reasons if vital else NOT_EXAMINED_REASONS
    reasons = offered if is_sure else ("", *offered)
    hold(match["reason"] in reasons, f"{match['id']}: no reason {match['reason']}")
    if is_sure:
        in_scope(line, vital.scopes if vital else region.scopes, match["id"])
        hold(match["reason"] in line["t"], f"{match['reason']} is not said")
        keys = (match["id"],) if vital else region.answer_keys()
        hold(match["id"] in keys, f"{match['id']}: which side is not said")


def check_part(line, protocol, key, match, *, is_sure):
    region_id, _, side = key.partition(".")
    region = protocol.region(region_id)
    hold(region, f"{key}: no such part")
    hold(not side or side in region.sides, f"{key}: no such side")
    if is_sure:
        in_scope(line, region.scopes, key)
        hold(key in region.answer_keys(), f"{key}: which side is not said")
        names_side(line, side, is_whole=match["term"] == "normal")
    if match["term"] == "normal":
        hold(not match["no"] and not match["details"], f"{key}: normal says no more")
        return
    if match["term"] == "gone":
        hold(region.loss_is_finding, f"{key}: its loss is no find")
        return
    term = region.term(match["term"])
    hold(term, f"{key}: no find {match['term']}")
    check_term(line, protocol, term, match, is_sure=is_sure)


def names_side(line, side, *, is_whole):
    """Hold that a sure side was said; a pair named whole and normal is both."""
    capitals = set(re.findall(r"\b[A-Z]{2}\b", line["t"]))
    words = spoken_words(line["t"]) | capitals
    hold(
        not side or is_whole or words & (SIDE_WORDS[side] | BOTH_WORDS),
        f"{side} is not said",
    )


def check_term(line, protocol, term, match, *, is_sure):
    if grade := match["grade"]:
        scale = protocol.scale(term.scale_id)
        # Asked may be what has no place here: a grade of a scale the species lacks.
        hold(scale or not is_sure, f"{term.term_id}: is not graded")
        if scale:
            values = [g.value for g in scale.grades]
            hold(grade in values, f"{term.term_id}: no grade {grade}")
        if is_sure and grade.isdigit():
            says_numbers(line, grade)
            names_end(line, values)
    hold(
        not (match["no"] and (grade or match["details"])),
        f"{term.term_id}: a denial has no details",
    )
    for detail in (match["details"] or "").split("; "):
        check_detail(line, term, detail)


def check_detail(line, term, detail):
    size = SIZE.match(detail)
    if size:
        says_numbers(line, detail)
    hold(
        not detail
        or detail in (*term.qualities, *term.places)
        or (size and size["unit"] in LENGTHS)
        or set(detail.split()) <= spoken_words(line["t"]),
        f"{term.term_id}: no detail {detail}",
    )


def in_scope(line, scopes, name):
    hold(line["scope"] in scopes, f"{name}: is not part of this scope")


@pytest.mark.parametrize("line", list(every_line()))
def test_every_expectation_names_what_its_protocol_has(line):
    assert set(line) == KEYS
    assert line["t"].strip()
    assert line["species"] in available()
    assert line["scope"] in SCOPES
    for item in line["sure"]:
        check(line, item, is_sure=True)
    for item in line["asked"]:
        check(line, item, is_sure=False)


@pytest.mark.parametrize("line", list(every_line()))
def test_what_may_be_sure_of_a_line_contradicts_nothing(line):
    sure, asked = line["sure"], line["asked"]
    assert not set(sure) & set(asked)
    assert len(set(sure)) == len(sure)
    assert len(set(asked)) == len(asked)
    values = [match["ids"] for item in sure if (match := VALUE.match(item))]
    assert len(set(values)) == len(values), "two values of one vital are both asked"
    normal = {item.split()[0] for item in sure if item.endswith(" normal")}
    finds = {item.split()[0] for item in sure if not item.endswith(" normal")}
    assert not normal & finds, "a part with a find is not normal"


@pytest.mark.parametrize("line", list(every_line()))
def test_a_sentence_set_aside_by_one_of_its_words_is_asked_whole(line):
    sentences = re.split(r"[.;](?:\s|$)", line["t"])
    kept = [told for told in sentences if not SETS_ASIDE.search(told)]
    rest = {**line, "t": ". ".join(kept)}
    assert not line["sure"] or rest["t"].strip(". ")
    for item in line["sure"]:
        check(rest, item, is_sure=True)


def test_there_are_lines_of_every_species_and_scope():
    fresh, held = (lines_of(name) for name in FILES)
    species = Counter(line["species"] for line in fresh)
    assert set(species) == set(available())
    assert min(species.values()) >= 10
    assert {line["scope"] for line in fresh} == {line["scope"] for line in held}
    assert {line["species"] for line in held} == set(available())
    sure = sum(len(line["sure"]) for line in fresh)
    assert len(fresh) >= 140
    assert len(held) >= 60
    assert sure >= 180
    assert 2 * sum(bool(line["sure"]) for line in fresh) >= len(fresh)
    asked = sum(len(line["asked"]) for line in fresh)
    print(f"lines of examiners: {len(fresh)}, sure {sure}, asked {asked}")


def test_no_line_is_written_twice():
    told = Counter((li["t"], li["species"]) for name in FILES for li in lines_of(name))
    assert [line for line, times in told.items() if times > 1] == []


@pytest.mark.parametrize(
    ("text", "item", "why"),
    [
        ("left ear red", "ears.left glows", "no find glows"),
        ("ear red", "ears.left red", "left is not said"),
        ("ears red", "ears red", "which side is not said"),
        ("left tail red", "tail.left wound", "no such side"),
        ("wing normal", "wing normal", "no such part"),
        ("T 38.5", "temperature=38.5 degC", "unit is not said"),
        ("T 38.5 mmHg", "temperature=38.5 mmHg", "is no unit of degC"),
        ("T 38.5 C", "temperature=38.6 degC", "not a number of the line"),
        ("grade 3 murmur", "heart murmur 3", "end, 6, is not said"),
        ("mouth, growls", "mouth not done: unsafe", "unsafe is not said"),
        ("ear refused", "ears not done: refused", "which side is not said"),
        ("T 385 C", "temperature=385 degC", "typing guard"),
        ("T 38.5 C", "temperature=38.5 degC [vent]", "not measured vent"),
        ("HR 31 in 15", "heart_rate=31 in 15", "length of the count is not said"),
        ("HR 31 in 7 s", "heart_rate=31 in 7", "no length of a count"),
        ("BCS 5", "body_condition=5", "end, 9, is not said"),
        ("BCS 5/5", "body_condition=5", "end, 9, is not said"),
        ("BCS 12/9", "body_condition=12", "no grade 12"),
        ("MM green", "mucous_membrane_colour=green", "no choice green"),
        ("calf 2/4", "calf_dung=2", "no such vital"),
        ("T asleep", "temperature not done: asleep", "no reason asleep"),
        ("cut lip", "mouth|mouth_deep ulcer", "one of two is never sure"),
        ("left ear red, sky", "ears.left red [in the sky]", "no detail in the sky"),
        ("left ear no red tip", "ears.left no red [flap, edge]", "has no details"),
        ("tail gone", "tail gone", "its loss is no find"),
        ("left eye red 2", "eyes.left red 2", "is not graded"),
        ("murmur 7/6", "heart murmur 7", "no grade 7"),
        ("ears", "EARS!", "not in the form"),
    ],
)
def test_an_expectation_that_is_wrong_is_refused(text, item, why):
    line = {"t": text, "species": "dog", "scope": "technician"}
    with pytest.raises(Exception, match=re.escape(why)):
        check(line, item, is_sure=True)


def test_what_a_scope_does_not_ask_is_never_sure():
    line = {"t": "HR 110", "species": "dog", "scope": "intake"}
    with pytest.raises(WrongExpectationError, match="not part of this scope"):
        check(line, "heart_rate=110 beat/min", is_sure=True)
    check(line, "heart_rate=110 beat/min", is_sure=False)
