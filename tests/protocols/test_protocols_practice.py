"""A practice's own protocol files: checked, explained, used in the species' place."""

import re
from importlib.resources import files

import pytest

from exam_app.__main__ import main
from exam_app.protocols.loader import available, load_protocol, read_folder

DOG = files("exam_app.protocols").joinpath("dog.toml").read_text("utf-8")
OWN = DOG.replace('label = "Dog"', 'label = "Dog of this practice"', 1)


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "dog.toml").write_text(OWN, "utf-8")
    return tmp_path


def test_a_practices_own_protocol_stands_in_the_species_place(folder):
    found = read_folder(folder)
    assert found.refused == ()
    assert found.of("dog").protocol.label == "Dog of this practice"
    assert found.of("dog").content_hash != load_protocol("dog").content_hash
    assert found.of("cat") == load_protocol("cat")
    assert set(found.species()) == set(available())


def test_a_practice_may_add_a_species_of_its_own(folder):
    other = OWN.replace('protocol_id = "dog"', 'protocol_id = "wolf"', 1).replace(
        'species = "dog"', 'species = "wolf"', 1
    )
    (folder / "wolf.toml").write_text(other, "utf-8")
    assert "wolf" in read_folder(folder).species()


def test_a_file_with_a_fault_is_not_used_and_every_fault_is_told(folder):
    broken = re.sub(r"(?m)^version = \d+$", 'version = "one"', OWN, count=1)
    broken = broken.replace('label = "From a distance"', "label = 7", 1)
    (folder / "dog.toml").write_text(broken, "utf-8")
    found = read_folder(folder)
    assert found.of("dog") == load_protocol("dog")
    told = str(found.refused[0])
    assert "version" in told
    assert "regions" in told


def test_two_files_for_one_species_are_told_and_the_first_is_used(folder):
    (folder / "hound.toml").write_text(OWN, "utf-8")
    found = read_folder(folder)
    assert found.of("dog").protocol.label == "Dog of this practice"
    assert "dog.toml" in str(found.refused[0])


@pytest.mark.parametrize(
    "content", [b"", b"\xff\xfe", b"[[regions", b"species = 1", b"x = 1\n" * 9, b"\0"]
)
def test_hostile_files_are_refused_and_lose_nothing(tmp_path, content):
    (tmp_path / "odd.toml").write_bytes(content)
    found = read_folder(tmp_path)
    assert len(found.refused) == 1
    assert found.of("dog") == load_protocol("dog")


def test_an_oversized_file_is_refused(tmp_path):
    (tmp_path / "odd.toml").write_bytes(b"# " + b"x" * 2_000_001)
    assert "bytes" in str(read_folder(tmp_path).refused[0])


def test_a_folder_that_is_not_there_means_no_own_protocols(tmp_path):
    found = read_folder(tmp_path / "none")
    assert found.by_species == {}
    assert found.refused == ()


def test_check_tells_what_a_good_file_holds(folder, capsys):
    assert main(["protocol", "check", str(folder / "dog.toml")]) == 0
    told = capsys.readouterr().out
    assert "can be used" in told
    assert "25 parts" in told


def test_check_explains_every_fault_of_every_file(folder, capsys):
    for name in ("one.toml", "two.toml"):
        broken = OWN.replace('source_id = "defarges2015"', 'source_id = "nowhere"', 1)
        (folder / name).write_text(broken, "utf-8")
    code = main(["protocol", "check", *(str(p) for p in sorted(folder.iterdir()))])
    told = capsys.readouterr().err
    assert code == 1
    assert "one.toml" in told
    assert "two.toml" in told
    assert "nowhere" in told


def test_check_of_a_missing_file_says_so(tmp_path, capsys):
    assert main(["protocol", "check", str(tmp_path / "none.toml")]) == 1
    assert "none.toml" in capsys.readouterr().err
