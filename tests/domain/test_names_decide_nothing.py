"""What the app does with a vital, a part or a unit never hangs on how it is named.

A practice names its own. What a vital is, its protocol declares; a name is compared
with nothing but another name from the data.
"""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
READ_IN_PART = {
    "endswith",
    "startswith",
    "removeprefix",
    "removesuffix",
    "find",
    "count",
    "index",
}
# What may look into a name, each with its reason.
AN_AGE = "words of an age, from a list of our own"
FORMAT_1 = "what files and contents of format 1 said by their names, said once"
ALLOWED = {
    "ages: unit in {'days', 'weeks'}": AN_AGE,
    "ages: unit == 'years'": AN_AGE,
    "ages: unit == 'months'": AN_AGE,
    "codec: unit == 'beat/min'": FORMAT_1,
    "codec: unit == 'kg'": FORMAT_1,
    "vital_zone: edit.form.unit == 'lb'": "the pad's only keys with letters",
}


def name_of(node: ast.expr) -> str:
    if isinstance(node, ast.Attribute):
        return node.attr
    return node.id if isinstance(node, ast.Name) else ""


def is_named_thing(node: ast.expr) -> bool:
    """Whether an expression is the id of a protocol's entry, or a unit."""
    name = name_of(node)
    kinds = ("vital", "region", "term", "clause", "sign", "scale", "measure", "unit")
    return name == "unit" or name in {f"{kind}_id" for kind in kinds}


def names_read(source: str) -> list[str]:
    """Return every place where a literal decides by a name, as its source text."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            is_read = node.func.attr in READ_IN_PART
            if is_read and is_named_thing(node.func.value):
                found.append(ast.unparse(node))
        if isinstance(node, ast.Compare):
            sides = [node.left, *node.comparators]
            literal = any(
                isinstance(part, ast.Constant) and part.value and part is not side
                for side in sides
                if is_named_thing(side)
                for whole in sides
                for part in ast.walk(whole)
            )
            if literal:
                found.append(ast.unparse(node))
    return found


def sources():
    for package in ("exam_app", "sync"):
        yield from sorted((ROOT / package).rglob("*.py"))


def test_no_name_of_a_protocol_s_entry_decides_what_is_done():
    found = {
        f"{path.stem}: {text}"
        for path in sources()
        for text in names_read(path.read_text("utf-8"))
    }
    assert found == set(ALLOWED)


@pytest.mark.parametrize(
    "line",
    [
        'several = vital.vital_id.endswith("_signs")',
        'is_pulse = "pulse" in vital.vital_id',
        'is_weight = vital.measure.unit == "kg"',
        'is_rate = measure.unit in {"beat/min", "breath/min"}',
        'if vital_id != "weight": pass',
    ],
)
def test_a_name_that_decides_is_found(line):
    assert names_read(line)


@pytest.mark.parametrize(
    "line",
    ["same = vital.vital_id == other.vital_id", "fits = reading.unit == measure.unit"],
)
def test_two_names_of_the_data_may_be_compared(line):
    assert not names_read(line)
