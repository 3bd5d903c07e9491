"""What the pages say is what the program does."""

import importlib
import importlib.util
import re
from pathlib import Path

import pytest

from exam_app.__main__ import main

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")


def help_text(capsys):
    with pytest.raises(SystemExit):
        main(["--help"])
    return " ".join(capsys.readouterr().out.split())


def test_readme_names_only_options_and_commands_that_exist(capsys):
    said = help_text(capsys)
    used = re.findall(r"exam-app (--[a-z-]+|[a-z]+)", README)
    assert {"--demo", "--window", "backup", "restore"} <= set(used)
    assert [word for word in used if word not in said] == []


def test_readme_shows_pictures_that_are_there():
    pictures = re.findall(r"!\[[^]]+\]\(([^)]+)\)", README)
    assert pictures
    assert [name for name in pictures if not (ROOT / name).is_file()] == []


def test_readme_links_to_pages_that_are_there():
    pages = re.findall(r"\]\(((?!http)[^)]+\.md)\)", README + DEVELOPERS)
    assert pages
    assert [name for name in pages if not (ROOT / name).is_file()] == []


def test_map_names_every_module_of_the_domain():
    modules = {path.stem for path in (ROOT / "exam_app" / "domain").rglob("*.py")}
    assert len(modules) > 40
    named = set(re.findall(r"`([a-z_]+)`", DEVELOPERS))
    assert modules - named - {"__init__", "errors"} == set()


def test_developers_page_names_files_that_are_there():
    named = set(re.findall(r"`([a-z_/]+/[a-z_]+\.py)`", DEVELOPERS))
    places = [ROOT, ROOT / "exam_app"]
    assert len(named) > 20
    assert [n for n in named if not any((p / n).is_file() for p in places)] == []


FROM_IMPORT = r"from ((?:exam_app|sync|tests)\S*) import (.*)"
NAMED_MODULE = r'"((?:exam_app|sync)(?:\.\w+)+)"'


def is_there(module, name):
    """Whether a module has what is imported from it, a module below it included."""
    if hasattr(importlib.import_module(module), name):
        return True
    return importlib.util.find_spec(f"{module}.{name}") is not None


def test_scripts_of_other_languages_and_of_the_build_import_what_is_there():
    scripts = [
        *(ROOT / ".ci").rglob("*"),
        *(ROOT / "tests").glob("*.mjs"),
        *(ROOT / "exam_app" / "phone" / "static").glob("st*.js"),
    ]
    texts = [path.read_text("utf-8") for path in scripts if path.is_file()]
    imports = [
        (module, name.split(" as ")[0].strip())
        for text in texts
        for module, names in re.findall(FROM_IMPORT, text)
        for name in names.split(",")
    ]
    named = [m for text in texts for m in re.findall(NAMED_MODULE, text)]
    assert len(imports) + len(named) > 15
    assert [name for name in named if not importlib.util.find_spec(name)] == []
    assert [one for one in imports if not is_there(*one)] == []


def test_top_level_holds_only_what_belongs_there():
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "exam_app",
        "assets",
        "sync",
        "tests",
        "demo_patients",
        "build",
    }
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert found - allowed == set()
