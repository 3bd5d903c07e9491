"""What is read out on the telephone when something is urgent: five short lines."""

import re

from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.finding_transitions import finding_origin
from exam_app.domain.exam.findings import Call
from exam_app.domain.exam.people import Person
from exam_app.domain.exam.review import part_label, vital_label
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.exam_wording import (
    describe_finding,
    describe_value,
    join_words,
)
from exam_app.domain.wording.visit_wording import procedure_words

_SPELLED = (
    (r"\s?°C\b", " degrees Celsius"),
    (r"\s?°F\b", " degrees Fahrenheit"),
    (r"\s?/min\b", " a minute"),
    (r"\s?/h\b", " an hour"),
    (r"\s?mmol/L\b", " millimoles per litre"),
    (r"\s?mg/dL\b", " milligrams per decilitre"),
    (r"\s?mm ?Hg\b", " millimetres of mercury"),
    (r"\s?%", " percent"),
    (r"\s?kg\b", " kilograms"),
    (r"\s?mg\b", " milligrams"),
    (r"\s?[µμ]g\b", " micrograms"),
    (r"\s?g\b", " grams"),
    (r"\s?m[lL]\b", " millilitres"),
    (r"\s?[lL]\b", " litres"),
    (r"\s?lb\b", " pounds"),
    (r"\s?oz\b", " ounces"),
    (r"\s?mm\b", " millimetres"),
    (r"\s?cm\b", " centimetres"),
    (r"\s?s\b", " seconds"),
)
_OUTSIDE = {
    FlagLevel.BELOW: "below the published range",
    FlagLevel.ABOVE: "above the published range",
}


def spelled(text: str) -> str:
    """Return a text with the unit after each number in words, as it is spoken."""
    for short, said in _SPELLED:
        text = re.sub(rf"(?<=\d){short}", said, text)
    text = re.sub(r"(?<= (?:milli|micro)grams)/kg\b", " per kilogram", text)
    return re.sub(r"(?<=\d)\.(?=\d)", " point ", text)


def spoken_lines(
    exam: Exam, protocol: SpeciesProtocol, caller: Person
) -> tuple[tuple[str, str], ...]:
    """Return five (heading, sentence) pairs: animal, seen, done, asked, who calls."""
    animal, label = exam.animal, protocol.label.lower()
    name = animal.name or "An animal without a name"
    place = f"at {animal.place}" if animal.place else f"seen at: {exam.setting.value}"
    seen = "; ".join(_seen(exam, protocol)) or "Nothing urgent was recorded"
    done = "; ".join(_done(exam)) or "Nothing was given or done yet"
    return (
        ("Animal and place", f"{join_words(name, label, animal.sex.value, place)}."),
        ("What was seen", f"{spelled(seen)}."),
        ("What was done", f"{spelled(done)}."),
        ("What is asked", "Please come, or tell me what to do until you come."),
        ("Who calls", f"{caller.name}, {caller.role.value}."),
    )


def _seen(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    signs = [join_words(entry.label, entry.note) for entry in exam.urgent]
    origins = {entry.origin for entry in exam.urgent}
    found = [
        f"{part_label(exam, protocol, key)}: {describe_finding(finding, protocol)}"
        for key, entry in exam.regions.items()
        for finding in entry.findings
        if finding.call is not Call.NOTED
        or finding_origin(key, finding.finding_id) in origins
    ]
    values = [
        f"{vital_label(vital, words_for(exam)).lower()} "
        f"{describe_value(entry, vital, protocol)}, {_OUTSIDE[entry.flag.level]}"
        for vital_id, entry in exam.vitals.items()
        if (vital := protocol.vital(vital_id)) is not None
        and entry.flag is not None
        and entry.flag.level in _OUTSIDE
    ]
    return (*dict.fromkeys(signs), *found, *values)


def _done(exam: Exam) -> tuple[str, ...]:
    given = (
        join_words(
            f"Given: {one.product}",
            one.dose,
            one.route,
            f"at {one.at.clock()}" if one.at else "",
        )
        for one in exam.given
    )
    return (*given, *map(procedure_words, exam.procedures))
