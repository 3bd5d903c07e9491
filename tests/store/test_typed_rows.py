"""What the store gives leaves it as values with names, not as text by text."""

import ast
import importlib
import inspect
import pkgutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any, get_args, get_origin, get_type_hints

import exam_app
from exam_app.app.queries import clinic_records
from exam_app.store.repositories.reports import BackupsMade

ROOT = Path(exam_app.__file__).parent
GIVERS = ("store.repositories", "store.vault", "exchange", "app.queries")
MERGED = "a whole animal in its plain form: two are merged field by field"
WHOLE = "a whole thing in its plain form: read by from_plain or compared with another"
STORED = "made for the store, which alone reads it"
PLAIN = {
    "Animals.get": MERGED,
    "AnimalVersion.values": MERGED,
    "ClosedExam.to_row": STORED,
    "DayPack.animals": MERGED,
    "Drafts.get": WHOLE,
    "Merged.animal": MERGED,
    "OwnerBlocks.get": WHOLE,
    "OwnerBlocks.of": WHOLE,
    "changes_since": MERGED,
    "flat": MERGED,
    "with_value": MERGED,
    "without_erased": MERGED,
}
# Told by text above the store, and no row of it.
FOREIGN = {
    "app/animal_import/table_choice.py": "what is said of a table, on its way to it",
    "app/demo/demo_exam.py": "a file of demo_patients, as TOML is read",
    "app/exam_sessions.py": "the draft as it was read, so that unknown fields survive",
    "app/forms/animal_form.py": "an animal's fields as typed, on their way to its kind",
    "app/forms/bite_form.py": "a bite's fields as typed, on their way to its kind",
    "app/forms/visit_forms.py": "a part's fields as typed, on their way to its kind",
    "app/view/clinic_identity_presenter.py": MERGED,
    "app/view/vital_offers.py": "fields of a form on their way to its kind",
    "app/words/question.py": "an item's fields as answered, on their way to its kind",
    "app/words/settled.py": "fields of a find on their way to its kind",
    "cli/handover.py": "lines of JSON for whoever called the command",
    "cli/verify.py": "lines of JSON for whoever called the command",
    "ui/finding/details.py": "fields of a find on their way to its kind",
    "ui/round/group_sheet.py": "counts as typed, on their way to a visit's kind",
    "ui/server/guard.py": "requests, as ASGI shapes them",
    "ui/urgent/urgent_list.py": WHOLE,
}
# Where a type stands; one that is given another name is a value.
NAMING = ("annotation", "returns", "value")
TEXTS = ("Document", "dict[str, Any]", "Mapping[str, Any]")


def is_plain(kind: object) -> bool:
    """Whether a row by text is in a type."""
    origin, inside = get_origin(kind), get_args(kind)
    is_mapping = inspect.isclass(origin) and issubclass(origin, Mapping)
    return (is_mapping and inside[1:] == (Any,)) or any(map(is_plain, inside))


def given(module: ModuleType) -> set[str]:
    """Give the public functions and attributes of a module that give a row by text."""
    hints: dict[str, object] = {}
    for name, one in vars(module).items():
        if getattr(one, "__module__", "") != module.__name__:
            continue
        parts = {name: one}
        if inspect.isclass(one):
            parts = {f"{name}.{part}": value for part, value in vars(one).items()}
            fields = get_type_hints(one)
            hints |= {f"{name}.{field}": kind for field, kind in fields.items()}
        for part, value in parts.items():
            called = getattr(value, "fget", None) or value
            if inspect.isfunction(called):
                hints[part] = get_type_hints(called).get("return")
    return {
        name
        for name, kind in hints.items()
        if not name.rpartition(".")[2].startswith("_") and is_plain(kind)
    }


def modules():
    for package in GIVERS:
        parent = importlib.import_module(f"exam_app.{package}")
        for found in pkgutil.iter_modules(parent.__path__, f"{parent.__name__}."):
            yield importlib.import_module(found.name)


def told(path: Path) -> bool:
    """Whether a module names rows by text in a type."""
    source = path.read_text()
    if not any(text.partition("[")[0] in source for text in TEXTS):
        return False
    kinds = [
        kind
        for node in ast.walk(ast.parse(source))
        for kind in (getattr(node, name, None) for name in NAMING)
        if isinstance(kind, ast.expr)
    ]
    return any(text in ast.unparse(kind) for kind in kinds for text in TEXTS)


def test_no_row_leaves_the_store_as_fields_by_text():
    assert set().union(*map(given, modules())) == set(PLAIN)


def test_nobody_above_the_store_reads_rows_by_text():
    above = [p for name in ("app", "cli", "ui") for p in (ROOT / name).rglob("*.py")]
    found = {path.relative_to(ROOT).as_posix() for path in above if told(path)}
    assert found == set(FOREIGN)


def test_only_the_store_and_the_exchange_open_tables():
    above = [p for p in ROOT.rglob("*.py") if "open_table(" in p.read_text()]
    places = {path.relative_to(ROOT).parts[0] for path in above}
    assert places == {"store", "exchange"}


def test_a_function_that_gives_a_row_by_text_is_found(monkeypatch):
    assert given(importlib.import_module(BackupsMade.__module__)) == set()

    def every(self) -> list[dict[str, Any]]: ...

    monkeypatch.setattr(BackupsMade, "all", every)
    found = given(importlib.import_module(BackupsMade.__module__))
    assert found == {"BackupsMade.all"}


def test_a_row_by_text_inside_a_value_with_names_is_found(monkeypatch):
    @dataclass
    class Shown:
        devices: tuple[Mapping[str, Any], ...]

    Shown.__module__ = clinic_records.__name__

    monkeypatch.setattr(clinic_records, "Overview", Shown)
    assert given(clinic_records) == {"Overview.devices"}
