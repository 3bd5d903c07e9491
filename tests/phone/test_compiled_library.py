"""The library's archive with compiled modules: Python takes those, and no source."""

import sys
import zipfile
import zipimport

import pytest

from exam_app.compiled_library import add_compiled, loaded_members

MEMBERS = {
    "quiet_lessons/__init__.py": "from quiet_lessons.beats import counted\n",
    "quiet_lessons/beats.py": "counted = 112\n",
    "quiet_lessons/never.py": "counted = 0\n",
}


@pytest.fixture
def archive(tmp_path):
    """An archive of sources, as Python's own is on a phone."""
    path = tmp_path / "library.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, text in MEMBERS.items():
            packed.writestr(name, text)
    return path


@pytest.fixture
def imported(archive, monkeypatch):
    """The archive's package, imported and forgotten again afterwards."""
    monkeypatch.syspath_prepend(str(archive))
    import quiet_lessons

    yield quiet_lessons
    for name in ("quiet_lessons", "quiet_lessons.beats"):
        sys.modules.pop(name, None)


def with_broken_sources(path, broken):
    with zipfile.ZipFile(path) as packed, zipfile.ZipFile(broken, "w") as written:
        for name in packed.namelist():
            source = name.endswith(".py")
            written.writestr(
                name, "raise OSError('read')" if source else packed.read(name)
            )


def test_only_what_was_imported_from_the_archive_is_listed(archive, imported):
    assert imported.counted == 112
    assert loaded_members(str(archive)) == [
        "quiet_lessons/__init__.py",
        "quiet_lessons/beats.py",
    ]
    assert loaded_members(str(archive.with_name("other.zip"))) == []


async def test_a_compiled_module_is_used_whatever_stands_in_its_source(
    archive, tmp_path
):
    target, broken = tmp_path / "with_code.zip", tmp_path / "broken.zip"
    await add_compiled(str(archive), str(target), ["quiet_lessons/beats.py"])
    with_broken_sources(target, broken)
    package = zipimport.zipimporter(str(broken / "quiet_lessons"))
    found = {}
    exec(package.get_code("beats"), found)
    assert found["counted"] == 112
    with pytest.raises(OSError, match="read"):
        exec(package.get_code("never"), {})


async def test_the_sources_stay_and_the_archive_itself_is_not_touched(
    archive, tmp_path
):
    before, target = archive.read_bytes(), tmp_path / "with_code.zip"
    await add_compiled(str(archive), str(target), ["quiet_lessons/__init__.py"])
    assert archive.read_bytes() == before
    with zipfile.ZipFile(target) as packed:
        texts = {name: packed.read(name).decode() for name in MEMBERS}
        assert packed.testzip() is None
        assert sorted(packed.namelist()) == sorted(
            [*MEMBERS, "quiet_lessons/__init__.pyc"]
        )
    assert texts == MEMBERS


async def test_a_trace_names_the_place_where_the_library_lies(archive, tmp_path):
    target = tmp_path / "with_code.zip"
    await add_compiled(str(archive), str(target), ["quiet_lessons/beats.py"])
    code = zipimport.zipimporter(str(target / "quiet_lessons")).get_code("beats")
    assert code.co_filename == f"{archive}/quiet_lessons/beats.py"


async def test_each_module_waits_until_nobody_needs_the_app(archive, tmp_path):
    target, begun = tmp_path / "with_code.zip", []
    names = ["quiet_lessons/__init__.py", "quiet_lessons/beats.py"]

    async def until_quiet():
        begun.append(target.stat().st_size)

    await add_compiled(str(archive), str(target), names, until_quiet)
    # Before the first one it is the archive as it was.
    assert len(begun) == len(names)
    assert begun[0] == archive.stat().st_size
