"""What is asked around an exam: few fields first, the rest under "More".

Each field is a text as told, read or typed; an option only writes its words into the
field. Plain words stand where a volunteer would not know the trade's.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import timedelta
from functools import partial
from typing import Any

from exam_app.app.forms.form import Ask
from exam_app.domain.animal.signalment import Animal
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Attribution, Role
from exam_app.domain.exam.visit import (
    Care,
    Given,
    Intake,
    Plan,
    Presentation,
    Procedure,
    Sample,
)
from exam_app.domain.moments import Moment
from exam_app.language.catalogue import to_translate, tr

# Only these need no withdrawal time: nobody eats them.
NOT_FOOD = frozenset({"dog", "cat", "ferret"})
_CLOCK = re.compile(r"([01]?\d|2[0-3])[:.]?([0-5]\d)")
# Stands under "More".
_more = partial(Ask, is_more=True)

DANGERS = (
    Ask(
        "dangers",
        to_translate("What can hurt whoever handles it"),
        to_translate("What can hurt you"),
        hint=to_translate("As in: snaps when the ears are touched."),
        lines=2,
    ),
)
PRESENTATION = (
    Ask("presented_by", to_translate("Presented by"), to_translate("Who brings it")),
    Ask(
        "complaint",
        to_translate("Presenting complaint"),
        to_translate("What is the matter"),
        lines=2,
    ),
    Ask(
        "history",
        to_translate("History"),
        to_translate("What you were told about it"),
        lines=2,
    ),
    _more("consent_to", to_translate("Consent to"), to_translate("What they agree to")),
    _more("consent_by", to_translate("Consent given by"), to_translate("Who agreed")),
    _more(
        "consent_how",
        to_translate("Consent, how"),
        to_translate("How they agreed"),
        options=(
            to_translate("spoken"),
            to_translate("in writing"),
            to_translate("by phone"),
        ),
    ),
)
INTAKE = (
    Ask(
        "kind",
        to_translate("Intake type"),
        to_translate("How it came"),
        options=(
            to_translate("stray"),
            to_translate("found, brought in"),
            to_translate("given up by its owner"),
            to_translate("transfer"),
            to_translate("returned"),
            to_translate("seized"),
            to_translate("born in care"),
        ),
    ),
    Ask("found_where", to_translate("Found where")),
    Ask("found_when", to_translate("Found when")),
    _more(
        "hold_until",
        to_translate("Hold until"),
        hint=to_translate("As your rules say. Nothing is calculated from it."),
    ),
)
PROCEDURE = (
    Ask("what", to_translate("What was done")),
    Ask("where", to_translate("Where on the animal")),
    _more("note", to_translate("Note")),
)
SAMPLE = (
    Ask(
        "kind",
        to_translate("Sample or test"),
        options=(
            to_translate("blood"),
            to_translate("urine"),
            to_translate("droppings"),
            to_translate("swab"),
            to_translate("skin scraping"),
        ),
    ),
    Ask(
        "label",
        to_translate("Label on the tube"),
        hint=to_translate("Exactly as it is written on it."),
    ),
    Ask("test", to_translate("Test asked for")),
    _more("result", to_translate("Result, if it is there")),
)
CARE = (
    Ask(
        "isolation", to_translate("Isolation"), to_translate("Keep apart: why and how")
    ),
    Ask(
        "nothing_by_mouth",
        to_translate("Nothing by mouth"),
        to_translate("No food or water: until when"),
    ),
    Ask(
        "medication_due",
        to_translate("Medication due"),
        to_translate("Medicine due: what and when"),
    ),
)
_VETERINARIANS_PLAN = (
    Ask("assessment", to_translate("Assessment"), lines=2),
    Ask("differentials", to_translate("Differentials"), lines=2),
    Ask("plan", to_translate("Plan"), lines=2),
)
_EVERYBODYS_PLAN = (
    Ask("recheck", to_translate("Re-check"), to_translate("When to look again")),
    Ask(
        "owner_told",
        to_translate("What the owner was told"),
        to_translate("What you told the owner"),
        lines=2,
    ),
)
ROUTES = (
    to_translate("by mouth"),
    to_translate("under the skin"),
    to_translate("into a muscle"),
    to_translate("into a vein"),
    to_translate("on the skin"),
)


def plan_asks(role: Role) -> tuple[Ask, ...]:
    """Return the fields of the plan; assessing is offered to a veterinarian only.

    References:
        AVMA and state law read for this: diagnosing is reserved (read).
    """
    if role is Role.VETERINARIAN:
        return (*_VETERINARIANS_PLAN, *_EVERYBODYS_PLAN)
    return _EVERYBODYS_PLAN


def given_asks(
    species: str, now: Moment, veterinarians: Iterable[str]
) -> tuple[Ask, ...]:
    """Return the fields of something given; a food animal's label comes first."""
    clocks = tuple(dict.fromkeys(_ago(now, minutes) for minutes in (0, 10, 30)))
    withdrawal = Ask(
        "withdrawal",
        tr("Withdrawal, as on the label"),
        hint=tr("Copied, for meat, milk and eggs; zero is said too."),
    )
    return (
        Ask("product", tr("Product")),
        Ask(
            "dose",
            tr("Dose and unit"),
            tr("How much"),
            hint=tr("As given; nothing is calculated."),
        ),
        Ask("route", tr("Route"), tr("Given how"), options=ROUTES),
        Ask("at", tr("Time"), hint=tr("Hours and minutes, as 14:05."), options=clocks),
        Ask("ordered_by", tr("Ordered by"), options=tuple(veterinarians)),
        # What a food animal was given is found again by its lot.
        *(() if species in NOT_FOOD else (Ask("lot", tr("Lot")), withdrawal)),
        _more("site", tr("Site"), tr("Where on the animal")),
        *((_more("lot", tr("Lot")),) if species in NOT_FOOD else ()),
        _more("expiry", tr("Expiry, as printed")),
        _more("given_by", tr("Given by, if not the examiner")),
        _more("reason", tr("Reason")),
    )


def _ago(now: Moment, minutes: int) -> str:
    return Moment(now.utc_ms - minutes * 60_000, now.offset_min).clock()


def moment_typed(typed: str, now: Moment) -> Moment | None:
    """Read a time of day as the last moment the clock showed it; None if it is none."""
    clock = _CLOCK.fullmatch(typed.strip())
    if clock is None:
        return None
    hour, minute = int(clock[1]), int(clock[2])
    local = now.local()
    when = local.replace(hour=hour, minute=minute, second=0, microsecond=0)
    if when > local:
        when -= timedelta(days=1)
    return Moment.from_datetime(when)


def texts_of(said: object, asks: Iterable[Ask]) -> dict[str, str]:
    """Return what is said already, by field; empty texts where nothing is."""
    return {ask.name: str(getattr(said, ask.name, "") or "") for ask in asks}


WHOLE: Mapping[str, type[Any]] = {
    "animal": Animal,
    "presentation": Presentation,
    "intake": Intake,
    "plan": Plan,
    "care": Care,
}
ENTRIES: Mapping[str, type[Given | Procedure | Sample]] = {
    "given": Given,
    "procedures": Procedure,
    "samples": Sample,
}


def whole_said(exam: Exam, part: str, texts: Mapping[str, str]) -> Any:  # noqa: ANN401
    """Return a part with the typed texts; fields not asked keep what they said."""
    before = getattr(exam, part) or WHOLE[part]()
    return replace(before, **{name: text.strip() for name, text in texts.items()})


def entry_said(
    part: str, texts: Mapping[str, str], by: Attribution
) -> Given | Procedure | Sample:
    """Return one entry more of a list, from a form without a problem.

    Args:
        part: The exam's field; one of ``ENTRIES``.
        texts: As typed, by field; a time of day is the last one before it is entered.
        by: Who saw it and who enters it.
    """
    said: dict[str, Any] = {name: text.strip() for name, text in texts.items()}
    if part == "given":
        said["at"] = moment_typed(said.get("at", ""), by.entered)
    return ENTRIES[part](attribution=by, **said)


def problem_of(asks: Iterable[Ask], texts: Mapping[str, str], now: Moment) -> str:
    """Say what keeps an entry from being added, naming the field; empty if nothing."""
    first = next(iter(asks))
    if not texts.get(first.name, "").strip():
        return tr("Fill in: {field}.", field=tr(first.label).lower())
    at = texts.get("at", "").strip()
    if at and moment_typed(at, now) is None:
        return tr("The time cannot be read. Type hours and minutes, as 14:05.")
    return ""
