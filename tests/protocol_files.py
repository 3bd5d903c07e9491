"""Protocol files as a practice might write them, drawn anew and written as TOML.

Every file drawn is meant to pass the checks; one that does not is a fault of ours.
"""

import json
from collections.abc import Mapping
from decimal import Decimal

from hypothesis import strategies as st

SCOPES = ("intake", "technician", "veterinarian", "group")
STATES = ("resting", "alert", "hot")
STATISTICS = ("range", "observed range", "reference interval")
UNITS = {
    "measure": ("kg", "degC", "s", "mm", "mmol/L"),
    "rate": ("beat/min", "breath/min", "contraction/min"),
}
WORDS = st.text("abcdefghij äßéø'(),0123456789", min_size=1, max_size=20).map(
    lambda text: f"a{text}z"
)
SOURCE = "own_practice"


def some(values, at_least=1):
    """Draw some of the values, in their order."""
    chosen = st.lists(
        st.sampled_from(values), min_size=at_least, max_size=len(values), unique=True
    )
    return chosen.map(lambda found: [v for v in values if v in found])


def as_toml(table: Mapping[str, object]) -> str:
    """Write a table, its lists of tables as inline tables."""
    return "".join(f"{key} = {_value(value)}\n" for key, value in table.items())


def _value(value: object) -> str:
    if isinstance(value, Mapping):
        inside = ", ".join(f"{k} = {_value(v)}" for k, v in value.items())
        return f"{{ {inside} }}"
    if isinstance(value, list):
        return f"[{', '.join(_value(v) for v in value)}]"
    if isinstance(value, Decimal):
        return format(value, "f")
    return json.dumps(value, ensure_ascii=False)


@st.composite
def _stages(draw):
    ends = sorted(draw(st.sets(st.integers(1, 3000), max_size=3)))
    starts = [0, *ends]
    stages = [
        {"id": f"stage_{n}", "label": draw(WORDS), "from_days": start}
        for n, start in enumerate(starts)
    ]
    for stage, end in zip(stages, ends, strict=False):
        stage["until_days"] = end
    return stages


@st.composite
def _region(draw, number, scale_ids, sign_ids):
    scopes = draw(some(SCOPES))
    clauses = [
        {"id": f"clause_{n}", "text": draw(WORDS), "plain": draw(WORDS), **held}
        for n, held in enumerate(
            [{}, *({"scopes": [s]} for s in draw(some(scopes, at_least=0)))]
        )
    ]
    terms = [
        {
            "id": f"term_{n}",
            "label": draw(WORDS),
            "plain": draw(WORDS),
            "is_lump": draw(st.booleans()),
            "scale_id": draw(st.sampled_from(["", *scale_ids])),
            "urgent_sign_id": draw(st.sampled_from(["", *sign_ids])),
        }
        for n in range(draw(st.integers(1, 3)))
    ]
    return {
        "id": f"region_{number}",
        "label": draw(WORDS),
        "plain_label": draw(WORDS),
        "group": "Whole animal",
        "scopes": scopes,
        "sides": draw(st.sampled_from([[], ["left", "right"]])),
        "sexes": draw(some(("male", "female"), at_least=0)),
        "loss_is_finding": draw(st.booleans()),
        "source_id": SOURCE,
        "clauses": clauses,
        "terms": terms,
    }


@st.composite
def _vital(draw, number, scale_ids, sign_ids):
    kind = draw(st.sampled_from(["measure", "rate", "grade", "choice"]))
    scopes = draw(some(SCOPES))
    vital = {
        "id": f"vital_{number}",
        "label": draw(WORDS),
        "plain_label": draw(WORDS),
        "kind": kind,
        "scopes": scopes,
        "required_in": draw(some(scopes, at_least=0)),
        "not_done_reasons": draw(st.lists(WORDS, max_size=2)),
        "source_id": SOURCE,
    }
    if kind == "grade":
        return {**vital, "scale_id": draw(st.sampled_from(scale_ids))}
    fewest = 1 if kind == "choice" else 0
    vital["choices"] = [
        {
            "value": f"choice_{n}",
            "label": draw(WORDS),
            "plain": draw(WORDS),
            "urgent_sign_id": draw(st.sampled_from(["", *sign_ids])),
        }
        for n in range(draw(st.integers(fewest, 3)))
    ]
    if kind != "choice":
        unit = draw(st.sampled_from(UNITS[kind]))
        vital["measure"] = {
            "id": f"vital_{number}",
            "label": draw(WORDS),
            "plain_label": draw(WORDS),
            "unit": unit,
            "units_offered": [unit],
            "precision": draw(st.sampled_from(["1", "0.5", "0.1"])),
        }
    return vital


@st.composite
def _rows(draw, vitals, stages):
    rows = []
    for vital in (v for v in vitals if "measure" in v):
        for n in range(draw(st.integers(0, 2))):
            ends = sorted(draw(st.lists(st.integers(0, 99), min_size=2, max_size=2)))
            given_ends = draw(some(("low", "high")))
            held = zip(("low", "high"), map(Decimal, ends), strict=True)
            rows.append(
                {
                    "id": f"{vital['id']}_{n}",
                    "measure_id": vital["id"],
                    **{name: end for name, end in held if name in given_ends},
                    "unit": vital["measure"]["unit"],
                    "life_stages": draw(some([s["id"] for s in stages], at_least=0)),
                    "states": draw(some(STATES, at_least=0)),
                    "statistic": draw(st.sampled_from(STATISTICS)),
                    "source_id": SOURCE,
                    "provenance": "memory",
                }
            )
    return rows


@st.composite
def _signs(draw, sign_ids, vitals, stages):
    measured = [v["id"] for v in vitals if "measure" in v]
    signs = []
    for sign_id in sign_ids:
        sign = {
            "id": sign_id,
            "label": draw(WORDS),
            "plain": draw(WORDS),
            "action": draw(WORDS),
            "source_id": SOURCE,
        }
        if measured and draw(st.booleans()):
            sign["vital_id"] = draw(st.sampled_from(measured))
            sign[draw(st.sampled_from(["below", "above"]))] = "50"
            sign["life_stages"] = draw(some([s["id"] for s in stages], at_least=0))
        signs.append(sign)
    return signs


@st.composite
def protocol_files(draw):
    """Draw the text of a whole protocol file.

    Returns:
        TOML: at least one life stage, region and vital, up to eight urgent signs.
    """
    scale_ids = [f"scale_{n}" for n in range(draw(st.integers(1, 2)))]
    sign_ids = [f"sign_{n}" for n in range(draw(st.integers(0, 8)))]
    stages = draw(_stages())
    regions = [
        draw(_region(n, scale_ids, sign_ids)) for n in range(draw(st.integers(1, 4)))
    ]
    vitals = [
        draw(_vital(n, scale_ids, sign_ids)) for n in range(draw(st.integers(1, 4)))
    ]
    scales = [
        {
            "id": scale_id,
            "label": draw(WORDS),
            "plain_label": draw(WORDS),
            "grades": [
                {"value": str(n), "label": draw(WORDS)}
                for n in range(draw(st.integers(2, 4)))
            ],
            "source_id": SOURCE,
            "provenance": "memory",
        }
        for scale_id in scale_ids
    ]
    head = {"protocol_id": "own", "version": 1, "species": "yak", "label": draw(WORDS)}
    whole = {
        **head,
        "life_stages": stages,
        "regions": regions,
        "vitals": vitals,
        "scales": scales,
        "intervals": draw(_rows(vitals, stages)),
        "urgent_signs": draw(_signs(sign_ids, vitals, stages)),
        "sources": [{"id": SOURCE, "title": draw(WORDS)}],
    }
    return as_toml(whole)
