"""Who may import whom: the arrows between packages, held by reading every import."""

import ast
import graphlib
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
# Every layer may say what it says in the language that was chosen.
WORDS = {"exam_app.language"}
ALLOWED = {
    "exam_app.language": set(),
    "exam_app.crypto": set(),
    "exam_app.domain": set(),
    "exam_app.protocols": {"exam_app.domain"},
    "exam_app.record": {"exam_app.domain", "exam_app.crypto"},
    "exam_app.export": {"exam_app.domain"},
    "exam_app.store": {"exam_app.record", "exam_app.domain", "exam_app.crypto"},
    "sync": {"exam_app.record", "exam_app.domain", "exam_app.crypto"},
    "exam_app.exchange": {
        "exam_app.store",
        "sync",
        "exam_app.record",
        "exam_app.protocols",
        "exam_app.domain",
        "exam_app.crypto",
    },
}
# Another storage for the same repositories; screens and commands open it.
ALLOWED["exam_app.register"] = {
    "exam_app.exchange",
    *ALLOWED["exam_app.exchange"],
}
# Sheets stand above the application, as screens do, and know no Flet.
ALLOWED["exam_app.paper"] = {
    "exam_app.app",
    "exam_app.exchange",
    "exam_app.store",
    "exam_app.record",
    "exam_app.protocols",
    "exam_app.domain",
    "exam_app.resources",
    "sync",
}
# Each form of a record is in it, the printed one too.
ALLOWED["exam_app.whole_export"] = {
    "exam_app.paper",
    "exam_app.export",
    "exam_app.crypto",
    *ALLOWED["exam_app.paper"],
}
# What screens and commands both call: it knows neither.
NEVER_FROM_APP = (
    "exam_app.ui",
    "exam_app.paper",
    "exam_app.whole_export",
    "exam_app.cli",
    "exam_app.__main__",
)
ONLY_IN = {
    "flet": "exam_app.ui",
    "tinydb": "exam_app.store",
    "psycopg": "exam_app.register",
    "cryptography": "exam_app.crypto",
}
NO_OUTSIDE_WORLD = {"random", "secrets", "time", "pathlib", "os", "io", "socket"}


def modules():
    for package in ("exam_app", "sync"):
        for path in sorted((ROOT / package).rglob("*.py")):
            name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
            yield name, path


@cache
def imports_of(path):
    found = []
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found.extend(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found.append(node.module)
    return found


def layer_of(name):
    return next((layer for layer in ALLOWED if name.startswith(layer)), None)


def may_import(name, imported):
    """Whether a module may import another, by the layers that they are in."""
    top, layer = imported.partition(".")[0], layer_of(name)
    if top in ONLY_IN and not name.startswith(ONLY_IN[top]):
        return False
    if name.startswith("exam_app.app") and imported.startswith(NEVER_FROM_APP):
        return False
    if layer is None:
        return True
    if layer == "exam_app.domain" and top in NO_OUTSIDE_WORLD:
        return False
    if top not in {"exam_app", "sync"} or imported.startswith(layer):
        return True
    return imported.startswith(tuple(ALLOWED[layer] | WORDS))


def test_every_module_imports_only_what_its_layer_may():
    read = [(name, one) for name, path in modules() for one in imports_of(path)]
    assert len(read) > 2_000
    assert [one for one in read if not may_import(*one)] == []


@pytest.mark.parametrize(
    ("name", "imported"),
    [
        ("exam_app.domain.moments", "time"),
        ("exam_app.domain.moments", "exam_app.record.records"),
        ("exam_app.app.session", "exam_app.ui.shell.app"),
        ("exam_app.store.vault.vault", "sync.bundle.bundle"),
        ("exam_app.app.session", "flet"),
        ("exam_app.record.records", "cryptography.x509"),
    ],
)
def test_an_import_against_the_arrows_is_found(name, imported):
    assert not may_import(name, imported)


def test_package_init_is_a_docstring_only():
    bodies = {
        path: ast.parse(path.read_text("utf-8")).body
        for top in ("sync", "exam_app")
        for path in (ROOT / top).rglob("__init__.py")
    }
    assert len(bodies) > 40
    assert {
        path
        for path, body in bodies.items()
        if len(body) != 1 or not isinstance(body[0], ast.Expr)
    } == set()


@pytest.mark.parametrize("top", ["exam_app", "sync"])
def test_no_module_is_longer_than_a_reader_keeps_in_mind(top):
    lines = {
        path.relative_to(ROOT).as_posix(): len(path.read_bytes().splitlines())
        for path in (ROOT / top).rglob("*.py")
    }
    assert {name: count for name, count in lines.items() if count > 400} == {}


def import_graph():
    """Return who imports whom, inside functions and for types only included."""
    paths = dict(modules())
    return {name: set(modules_named(path, paths)) for name, path in paths.items()}


def modules_named(path, names):
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name in names)
        elif isinstance(node, ast.ImportFrom):
            whole = [f"{node.module}.{alias.name}" for alias in node.names]
            yield from (name for name in [node.module, *whole] if name in names)


def circle_in(graph):
    """Return modules that import one another in a circle, or nothing."""
    try:
        graphlib.TopologicalSorter(graph).prepare()
    except graphlib.CycleError as error:
        return error.args[1]
    return []


def test_no_module_imports_itself_by_a_way_around_others():
    graph = import_graph()
    assert len(graph) > 200
    assert any(
        "exam_app.ui.shell.page_controller" in imported for imported in graph.values()
    )
    assert circle_in(graph) == []
    # Without a circle a type is imported as anything else is.
    assert [n for n, p in modules() if "TYPE_CHECKING" in p.read_text("utf-8")] == []


def test_circle_of_a_type_and_of_an_import_within_a_function_is_found(tmp_path):
    texts = {
        "a": "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    import b\n",
        "b": "def later():\n    from c import name\n",
        "c": "import a\n",
        "d": "import a, b, c\n",
    }
    for name, text in texts.items():
        (tmp_path / f"{name}.py").write_text(text)
    graph = {name: set(modules_named(tmp_path / f"{name}.py", texts)) for name in texts}
    assert set(circle_in(graph)) == {"a", "b", "c"}
    graph["c"].clear()
    assert circle_in(graph) == []


BLOCKED = """
import importlib, pathlib, sys
for name in ("flet", "tinydb", "uvicorn",
             "cryptography.hazmat.primitives.hpke"):
    sys.modules[name] = None
paths = sorted(pathlib.Path("sync").rglob("*.py"))
for path in paths:
    parts = [part for part in path.with_suffix("").parts if part != "__init__"]
    importlib.import_module(".".join(parts))
blocked = {"flet", "tinydb", "exam_app.store", "exam_app.ui", "exam_app.protocols"}
seen = {name for name in blocked if sys.modules.get(name)}
print(len(paths), sorted(seen))
"""


def test_hand_over_imports_without_flet_tinydb_and_another_hpke():
    # In an interpreter of its own, where these names cannot be imported at all.
    command = [sys.executable, "-c", BLOCKED]
    run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr[-2_000:]
    count, seen = run.stdout.split(" ", 1)
    assert int(count) > 20
    assert seen.strip() == "[]"


def test_hand_over_uses_no_thread_process_or_network_of_its_own():
    for path in sorted((ROOT / "sync").rglob("*.py")):
        tops = {name.partition(".")[0] for name in imports_of(path)}
        assert not tops & {"threading", "subprocess", "multiprocessing", "socket"}, path
        assert not tops & {"asyncio", "concurrent", "ctypes", "random", "secrets"}, path


def test_tests_with_a_browsers_driver_are_left_out_of_pyodide():
    """Such a module cannot even be imported there, and would stop all the others."""
    tree = ast.parse((ROOT / ".ci" / "pyodide_tests.py").read_text("utf-8"))
    (named,) = (
        ast.literal_eval(node.value)
        for node in tree.body
        if isinstance(node, ast.AnnAssign) and node.target.id == "LEFT_OUT"
    )
    left_out = {name for names in named.values() for name in names}
    drivers = {
        path.relative_to(ROOT / "tests").as_posix()
        for path in (ROOT / "tests").rglob("test_*.py")
        if path.parent.name not in ("browser", "benchmarks")
        and any(
            name.startswith(("tests.browser", "playwright"))
            for name in imports_of(path)
        )
    }
    assert drivers
    assert sorted(drivers - left_out) == []
