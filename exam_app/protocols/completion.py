"""Complete a protocol file: fill what follows from it, add the shared parts it names.

Rules kept here: a clause without scopes holds in every scope of its region, and a
published row without life stages, settings or states for any of them; a shared
scale, caution or source is added only when the file uses it; the file's own entry of
the same id wins, so that a practice can word a scale its own way; a unit that the file
brings goes to every measure that names it.
"""

from collections.abc import Iterable, Iterator, Mapping
from copy import deepcopy
from typing import Any

from exam_app.protocols.codec import Raw, tables

SHARED_KINDS = ("scales", "cautions", "sources")


def complete(raw: Mapping[str, Any], shared: Mapping[str, list[Raw]]) -> Raw:
    """Return a self-contained copy of a protocol table.

    Args:
        raw: The file as read; ``uses_cautions`` lists the ids of shared cautions.
        shared: Shared entries by kind, each a list of tables with an ``id``.

    Returns:
        The table with every scale, caution and source that it uses; what is not in
        the shared parts either is left for the checks to name.
    """
    whole = deepcopy(dict(raw))
    wanted = whole.pop("uses_cautions", [])
    _fill(whole)
    _hand_out_units(whole)
    _add(whole, shared, "cautions", _texts(wanted))
    _add(whole, shared, "scales", _values(whole, "scale_id"))
    cited = (*_values(whole, "source_id"), *_also_cited(whole))
    _add(whole, shared, "sources", cited)
    return whole


def _fill(whole: Raw) -> None:
    whole.setdefault("intervals", [])
    whole.setdefault("urgent_signs", [])
    for region in tables(whole.get("regions")):
        for clause in tables(region.get("clauses")):
            clause.setdefault("scopes", list(region.get("scopes", [])))
    for interval in tables(whole.get("intervals")):
        for end in ("low", "high"):
            interval.setdefault(end, None)
        for held in ("life_stages", "settings", "states"):
            interval.setdefault(held, [])


def _hand_out_units(whole: Raw) -> None:
    """Put each unit of the file beside the measures that name it.

    One that no measure names is left where it is, and so told as an unknown key.
    """
    left = tables(whole.get("units"))
    if left != whole.get("units"):
        return
    named: set[object] = set()
    for vital in tables(whole.get("vitals")):
        measure = vital.get("measure")
        if isinstance(measure, dict):
            names = {measure.get("unit"), *_texts(measure.get("units_offered"))}
            own = [unit for unit in left if unit.get("id") in names]
            named |= names
            if own:
                measure["units"] = deepcopy(own)
    whole["units"] = [unit for unit in left if unit.get("id") not in named]
    if not whole["units"]:
        del whole["units"]


def _add(
    whole: Raw, shared: Mapping[str, list[Raw]], kind: str, wanted: Iterable[str]
) -> None:
    own = whole.setdefault(kind, [])
    if not isinstance(own, list):
        return
    have = {table.get("id") for table in tables(own)}
    used = set(wanted)
    own += [
        deepcopy(entry)
        for entry in shared[kind]
        if entry["id"] in used and entry["id"] not in have
    ]


def _values(place: object, key: str) -> Iterator[str]:
    """Yield every text under a key, at any depth."""
    if isinstance(place, Mapping):
        for name, value in place.items():
            if name == key and isinstance(value, str):
                yield value
            yield from _values(value, key)
    elif isinstance(place, list):
        for value in place:
            yield from _values(value, key)


def _also_cited(whole: Raw) -> Iterator[str]:
    for interval in tables(whole.get("intervals")):
        yield from _texts(interval.get("also_from"))


def _texts(value: object) -> list[str]:
    if not isinstance(value, list):
        return []
    return [entry for entry in value if isinstance(entry, str)]
