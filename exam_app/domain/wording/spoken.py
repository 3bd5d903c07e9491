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
    sign_words,
)
from exam_app.domain.wording.kept_words import offered
from exam_app.domain.wording.visit_wording import procedure_words
from exam_app.language.catalogue import to_translate, tr

_SPELLED = (
    (r"\s?°C\b", to_translate(" degrees Celsius")),
    (r"\s?°F\b", to_translate(" degrees Fahrenheit")),
    (r"\s?/min\b", to_translate(" a minute")),
    (r"\s?/h\b", to_translate(" an hour")),
    (r"\s?mmol/L\b", to_translate(" millimoles per litre")),
    (r"\s?mg/dL\b", to_translate(" milligrams per decilitre")),
    (r"\s?mm ?Hg\b", to_translate(" millimetres of mercury")),
    (r"\s?%", to_translate(" percent")),
    (r"\s?kg\b", to_translate(" kilograms")),
    (r"\s?mg\b", to_translate(" milligrams")),
    (r"\s?[µμ]g\b", to_translate(" micrograms")),
    (r"\s?g\b", to_translate(" grams")),
    (r"\s?m[lL]\b", to_translate(" millilitres")),
    (r"\s?[lL]\b", to_translate(" litres")),
    (r"\s?lb\b", to_translate(" pounds")),
    (r"\s?oz\b", to_translate(" ounces")),
    (r"\s?mm\b", to_translate(" millimetres")),
    (r"\s?cm\b", to_translate(" centimetres")),
    (r"\s?s\b", to_translate(" seconds")),
)
_OUTSIDE = {
    FlagLevel.BELOW: to_translate("{value}, below the published range"),
    FlagLevel.ABOVE: to_translate("{value}, above the published range"),
}


def spelled(text: str) -> str:
    """Return a text with the unit after each number in words, as it is spoken."""
    for short, said in _SPELLED:
        text = re.sub(rf"(?<=\d){short}", tr(said), text)
    text = re.sub(r"(?<= (?:milli|micro)grams)/kg\b", tr(" per kilogram"), text)
    return re.sub(r"(?<=\d)\.(?=\d)", tr(" point "), text)


def spoken_lines(
    exam: Exam, protocol: SpeciesProtocol, caller: Person
) -> tuple[tuple[str, str], ...]:
    """Return five (heading, sentence) pairs: animal, seen, done, asked, who calls.

    Headings are English, by which a line is known; ``tr`` shows them. Sentences are in
    the language that was chosen, in which they are spoken.
    """
    animal, label = exam.animal, tr(protocol.label).lower()
    name = animal.name or tr("An animal without a name")
    place = tr("seen at: {setting}", setting=tr(exam.setting.value))
    if animal.place:
        place = tr("at {place}", place=animal.place)
    about = join_words(name, label, tr(animal.sex.value), place)
    seen = "; ".join(_seen(exam, protocol)) or tr("Nothing urgent was recorded")
    done = "; ".join(_done(exam)) or tr("Nothing was given or done yet")
    asked = tr("Please come, or tell me what to do until you come.")
    return (
        (to_translate("Animal and place"), f"{about}."),
        (to_translate("What was seen"), f"{spelled(seen)}."),
        (to_translate("What was done"), f"{spelled(done)}."),
        (to_translate("What is asked"), asked),
        (to_translate("Who calls"), f"{caller.name}, {tr(caller.role.value)}."),
    )


def _seen(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    signs = [join_words(sign_words(entry), entry.note) for entry in exam.urgent]
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
        + tr(
            _OUTSIDE[entry.flag.level],
            value=describe_value(entry, vital, protocol),
        )
        for vital_id, entry in exam.vitals.items()
        if (vital := protocol.vital(vital_id)) is not None
        and entry.flag is not None
        and entry.flag.level in _OUTSIDE
    ]
    return (*dict.fromkeys(signs), *found, *values)


def _done(exam: Exam) -> tuple[str, ...]:
    given = (
        join_words(
            tr("Given: {product}", product=one.product),
            one.dose,
            offered(one.route),
            tr("at {time}", time=one.at.clock()) if one.at else "",
        )
        for one in exam.given
    )
    return (*given, *map(procedure_words, exam.procedures))
