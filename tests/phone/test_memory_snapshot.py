"""What a phone imports for its later starts, and what it has to leave for later."""

import gc
import importlib
import json
import random
import subprocess
import sys
import types

import pytest

from exam_app.memory_snapshot import (
    LaterModule,
    after_restoring,
    compiled_packages,
    import_for_snapshot,
    imported_names,
)

# As a phone does: every module that goes there, with both compiled packages left out.
IMPORT_ALL = """
import json, pkgutil, sys
import exam_app, sync
from exam_app.memory_snapshot import LaterModule, import_for_snapshot, imported_names

NOT_THERE = ("exam_app.phone", "exam_app.native", "exam_app.register")

def every(package):
    found = pkgutil.walk_packages(package.__path__, package.__name__ + ".")
    for name in (one.name for one in found):
        if not name.startswith(NOT_THERE) and not name.endswith("__main__"):
            yield name

names = [*every(exam_app), *every(sync)]
for name in [one for one in sys.modules if one.startswith(("cbor2", "msgpack"))]:
    del sys.modules[name]
import_for_snapshot(["cbor2", "msgpack"], names)
later = [name for name, one in sys.modules.items() if type(one) is LaterModule]
from exam_app.record.cbor_form import decode, encode
read = decode(encode({1: ["Bramble", True]}))
print(json.dumps([len(names), later, read == {1: ["Bramble", True]}, imported_names()]))
"""


@pytest.mark.in_whole
def test_no_module_of_the_app_wants_a_compiled_package_while_it_is_imported():
    done = subprocess.run(
        [sys.executable, "-c", IMPORT_ALL], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr[-2000:]
    count, later, is_read, imported = json.loads(done.stdout)
    assert count > 400
    assert later == ["cbor2", "msgpack"]
    assert is_read
    assert {"exam_app.record.records", "sync.bundle.bundle"} <= {*imported}
    assert not any(name.startswith(("flet_js", "cbor2")) for name in imported)


@pytest.fixture
def package(tmp_path, monkeypatch):
    """A package that is compiled in part, as a name; nobody has imported it."""
    name = "heard_beats"
    folder = tmp_path / name
    folder.mkdir()
    (folder / "__init__.py").write_text("from heard_beats.counted import beats\n")
    (folder / "counted.py").write_text("def beats():\n    return 112\n")
    (folder / "fast.cpython-314-wasm32-emscripten.so").write_bytes(b"")
    (tmp_path / "plain.py").write_text("")
    monkeypatch.syspath_prepend(str(tmp_path))
    yield name
    gc.unfreeze()
    for one in [one for one in sys.modules if one.startswith(name)]:
        del sys.modules[one]


def test_compiled_packages_are_found_by_their_files(package, tmp_path):
    assert compiled_packages(tmp_path) == {package}
    assert compiled_packages(tmp_path / "missing") == set()


def test_a_package_left_for_later_becomes_itself_when_it_is_wanted(package):
    import_for_snapshot([package], [])
    left = importlib.import_module(package)
    assert type(left) is LaterModule
    with pytest.raises(AttributeError):
        left.__version__  # noqa: B018  what asks for this imports nothing
    assert type(left) is LaterModule
    assert left.beats() == 112
    assert type(left) is types.ModuleType
    assert importlib.import_module(package) is left
    assert importlib.import_module(f"{package}.counted").beats is left.beats
    with pytest.raises(AttributeError):
        left.unheard  # noqa: B018


def test_one_that_cannot_be_imported_says_so_each_time(monkeypatch):
    monkeypatch.setitem(sys.modules, "never_there", LaterModule("never_there"))
    for _ in range(2):
        with pytest.raises(ModuleNotFoundError):
            sys.modules["never_there"].beats  # noqa: B018


def test_a_module_that_wants_it_too_early_is_refused(package, tmp_path):
    (tmp_path / "hasty.py").write_text("import heard_beats\nheard_beats.beats()\n")
    with pytest.raises(ImportError, match="heard_beats"):
        import_for_snapshot([package], ["hasty"])
    sys.modules.pop("hasty")


def test_only_modules_of_the_app_and_of_flet_are_named():
    names = imported_names()
    assert "exam_app.memory_snapshot" in names
    assert "flet.messaging.pyodide_connection" not in names
    assert not [one for one in names if one.split(".")[0] not in _PACKAGES]


_PACKAGES = {"exam_app", "sync", "flet"}


def test_after_restoring_chance_is_new_and_new_files_are_found(tmp_path, monkeypatch):
    monkeypatch.syspath_prepend(str(tmp_path))
    state = random.getstate()
    with pytest.raises(ModuleNotFoundError):
        importlib.import_module("come_since")
    (tmp_path / "come_since.py").write_text("found = True\n")
    after_restoring()
    assert importlib.import_module("come_since").found
    assert random.getstate() != state
    sys.modules.pop("come_since")
