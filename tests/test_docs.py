"""What the pages say is what the program does."""

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
