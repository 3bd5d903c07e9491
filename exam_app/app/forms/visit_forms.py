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

# Only these need no withdrawal time: nobody eats them.
NOT_FOOD = frozenset({"dog", "cat", "ferret"})
_CLOCK = re.compile(r"([01]?\d|2[0-3])[:.]?([0-5]\d)")
# Stands under "More".
_more = partial(Ask, is_more=True)

DANGERS = (
    Ask(
        "dangers",
        "What can hurt whoever handles it",
        "What can hurt you",
        hint="As in: snaps when the ears are touched.",
        lines=2,
    ),
)
PRESENTATION = (
    Ask("presented_by", "Presented by", "Who brings it"),
    Ask("complaint", "Presenting complaint", "What is the matter", lines=2),
    Ask("history", "History", "What you were told about it", lines=2),
    _more("consent_to", "Consent to", "What they agree to"),
    _more("consent_by", "Consent given by", "Who agreed"),
    _more(
        "consent_how",
        "Consent, how",
        "How they agreed",
        options=("spoken", "in writing", "by phone"),
    ),
)
INTAKE = (
    Ask(
        "kind",
        "Intake type",
        "How it came",
        options=(
            "stray",
            "found, brought in",
            "given up by its owner",
            "transfer",
            "returned",
            "seized",
            "born in care",
        ),
    ),
    Ask("found_where", "Found where"),
    Ask("found_when", "Found when"),
    _more(
        "hold_until",
        "Hold until",
        hint="As your rules say. Nothing is calculated from it.",
    ),
)
PROCEDURE = (
    Ask("what", "What was done"),
    Ask("where", "Where on the animal"),
    _more("note", "Note"),
)
SAMPLE = (
    Ask(
        "kind",
        "Sample or test",
        options=("blood", "urine", "droppings", "swab", "skin scraping"),
    ),
    Ask("label", "Label on the tube", hint="Exactly as it is written on it."),
    Ask("test", "Test asked for"),
    _more("result", "Result, if it is there"),
)
CARE = (
    Ask("isolation", "Isolation", "Keep apart: why and how"),
    Ask("nothing_by_mouth", "Nothing by mouth", "No food or water: until when"),
    Ask("medication_due", "Medication due", "Medicine due: what and when"),
)
_VETERINARIANS_PLAN = (
    Ask("assessment", "Assessment", lines=2),
    Ask("differentials", "Differentials", lines=2),
    Ask("plan", "Plan", lines=2),
)
_EVERYBODYS_PLAN = (
    Ask("recheck", "Re-check", "When to look again"),
    Ask("owner_told", "What the owner was told", "What you told the owner", lines=2),
)
ROUTES = ("by mouth", "under the skin", "into a muscle", "into a vein", "on the skin")


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
        "Withdrawal, as on the label",
        hint="Copied, for meat, milk and eggs; zero is said too.",
    )
    return (
        Ask("product", "Product"),
        Ask(
            "dose", "Dose and unit", "How much", hint="As given; nothing is calculated."
        ),
        Ask("route", "Route", "Given how", options=ROUTES),
        Ask("at", "Time", hint="Hours and minutes, as 14:05.", options=clocks),
        Ask("ordered_by", "Ordered by", options=tuple(veterinarians)),
        # What a food animal was given is found again by its lot.
        *(() if species in NOT_FOOD else (Ask("lot", "Lot"), withdrawal)),
        _more("site", "Site", "Where on the animal"),
        *((_more("lot", "Lot"),) if species in NOT_FOOD else ()),
        _more("expiry", "Expiry, as printed"),
        _more("given_by", "Given by, if not the examiner"),
        _more("reason", "Reason"),
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
        return f"Fill in: {first.label.lower()}."
    at = texts.get("at", "").strip()
    if at and moment_typed(at, now) is None:
        return "The time cannot be read. Type hours and minutes, as 14:05."
    return ""
