"""Loading a species: what comes with the program, a practice's own, and the content."""

import json
import tomllib
from hashlib import sha256
from importlib.resources import files

import pytest

from exam_app.domain.protocol.protocol import Scope, SpeciesProtocol
from exam_app.protocols.codec import FORMAT, ProtocolFileError, ProtocolTooNewError
from exam_app.protocols.loader import (
    available,
    load_bytes,
    load_content,
    load_file,
    load_protocol,
)

OWN_FILE = """
protocol_id = "ferret_own"
version = 3
species = "ferret"
label = "Ferret"
uses_cautions = ["bite"]

[[life_stages]]
id = "adult"
label = "Adult"
from_days = 0

[[regions]]
id = "nose"
label = "Nose"
plain_label = "Nose"
group = "Head"
scopes = ["technician"]
clauses = [{ id = "dry", text = "no discharge seen" }]
terms = [{ id = "discharge", label = "Discharge" }]

[[vitals]]
id = "body_condition"
label = "Body condition"
plain_label = "How fat or thin"
kind = "grade"
scopes = ["technician"]
scale_id = "body_condition_9"
"""


@pytest.fixture(params=available())
def protocol(request: pytest.FixtureRequest) -> SpeciesProtocol:
    return load_protocol(request.param).protocol


def reasons(error: ProtocolFileError) -> list[str]:
    return [str(problem) for problem in error.problems]


def test_dog_and_cat_come_with_the_program():
    assert {"cat", "dog"} <= set(available())


@pytest.mark.parametrize("species", available())
def test_content_names_itself_by_its_hash(species):
    loaded = load_protocol(species)
    assert loaded.content_hash == sha256(loaded.content).hexdigest()


@pytest.mark.parametrize("species", available())
def test_content_alone_rebuilds_the_protocol_and_its_hash(species):
    loaded = load_protocol(species)
    assert load_content(loaded.content) == loaded


def test_content_carries_the_shared_scales_and_sources():
    whole = json.loads(load_protocol("dog").content)
    own = tomllib.loads(
        files("exam_app.protocols").joinpath("dog.toml").read_text(encoding="utf-8")
    )
    assert "scales" not in own
    assert "sources" not in own
    assert "murmur_6" in {scale["id"] for scale in whole["scales"]}
    assert "dorn2024" in {source["id"] for source in whole["sources"]}


def test_content_holds_no_float():
    def refuse(text: str) -> float:
        pytest.fail(f"{text} is a float")

    json.loads(load_protocol("cat").content, parse_float=refuse)


def test_content_is_canonical():
    content = load_protocol("dog").content
    again = json.dumps(
        json.loads(content),
        ensure_ascii=False,
        sort_keys=True,
        separators=(",", ":"),
    )
    assert again.encode() == content


def test_changed_word_changes_the_hash():
    loaded = load_protocol("dog")
    changed = load_content(loaded.content.replace(b"Runny nose", b"Wet nose"))
    assert changed.content_hash != loaded.content_hash


def test_content_keeps_the_bytes_it_was_given():
    spaced = json.dumps(json.loads(load_protocol("dog").content), indent=1).encode()
    loaded = load_content(spaced)
    assert loaded.content == spaced
    assert loaded.content_hash == sha256(spaced).hexdigest()
    assert loaded.protocol == load_protocol("dog").protocol


def test_only_the_sources_used_are_carried(protocol):
    used = {
        thing.source_id
        for things in (
            protocol.regions,
            protocol.vitals,
            protocol.scales,
            protocol.intervals,
            protocol.urgent_signs,
            protocol.cautions,
        )
        for thing in things
    }
    used |= {name for row in protocol.intervals for name in row.also_from}
    used |= {
        trigger.source_id
        for sign in protocol.urgent_signs
        for trigger in sign.triggers
        if trigger.source_id
    }
    assert {source.source_id for source in protocol.sources} == used


def test_species_without_a_protocol_is_refused_and_names_those_there_are():
    with pytest.raises(ProtocolFileError) as caught:
        load_protocol("dragon")
    assert f"there are: {', '.join(available())}" in str(caught.value)


def test_practice_loads_its_own_file(tmp_path):
    path = tmp_path / "ferret.toml"
    path.write_text(OWN_FILE, encoding="utf-8")
    loaded = load_file(path)
    assert loaded.protocol.protocol_id == "ferret_own"
    assert loaded.protocol.version == 3
    assert [caution.caution_id for caution in loaded.protocol.cautions] == ["bite"]
    assert load_content(loaded.content) == loaded


def test_own_scale_wins_over_the_shared_one_of_the_same_name():
    own = (
        OWN_FILE
        + """
[[scales]]
id = "body_condition_9"
label = "Our condition"
plain_label = "Our condition"
source_id = "common_practice"
provenance = "memory"
grades = [{ value = "1", label = "thin" }, { value = "2", label = "fat" }]
"""
    )
    protocol = load_bytes("ferret.toml", own.encode()).protocol
    assert [scale.label for scale in protocol.scales] == ["Our condition"]


def test_clause_without_scopes_holds_in_every_scope_of_its_region():
    protocol = load_bytes("ferret.toml", OWN_FILE.encode()).protocol
    assert protocol.regions[0].clauses[0].scopes == (Scope.TECHNICIAN,)


def test_file_that_is_not_there_is_refused_with_its_name(tmp_path):
    with pytest.raises(ProtocolFileError) as caught:
        load_file(tmp_path / "gone.toml")
    assert caught.value.path == "gone.toml"


@pytest.mark.parametrize("text", [b"region = [", b"\xff\xfe", b"a = 1\na = 2\n"])
def test_text_that_is_no_toml_is_refused(text):
    with pytest.raises(ProtocolFileError, match="no TOML"):
        load_bytes("own.toml", text)


@pytest.mark.parametrize("content", [b"", b"[]", b"\xff", b"{}", b'{"format":"1"}'])
def test_bytes_that_are_no_content_are_refused(content):
    with pytest.raises(ProtocolFileError):
        load_content(content)


@pytest.mark.parametrize("opening", [b"[", b'{"format":', b'[{"":"]}\\"[",'])
def test_content_nested_without_end_is_refused_before_it_is_parsed(opening):
    with pytest.raises(ProtocolFileError, match="levels deep"):
        load_content(opening * 100_000)


def test_brackets_in_a_text_are_no_levels():
    loaded = load_protocol("dog")
    words = ("[{" * 40 + '\\"').encode()
    text = loaded.content.replace(b"Runny nose", words)
    assert text != loaded.content
    assert load_content(text).content == text


def test_toml_nested_without_end_is_refused():
    with pytest.raises(ProtocolFileError, match="no TOML"):
        load_bytes("own.toml", b"region = " + b"[" * 100_000)


def test_content_of_a_later_format_is_refused_as_too_new():
    whole = json.loads(load_protocol("dog").content)
    whole["format"] = FORMAT + 1
    with pytest.raises(ProtocolTooNewError) as caught:
        load_content(json.dumps(whole).encode())
    assert "Update the program" in caught.value.advice


def test_huge_file_is_refused_before_it_is_read():
    with pytest.raises(ProtocolFileError, match="more than"):
        load_bytes("own.toml", b"#" * 2_000_001)


def test_every_fault_of_kind_is_listed_with_file_key_and_reason():
    broken = (
        OWN_FILE.replace("version = 3", 'version = "3"')
        .replace('label = "Discharge"', "label = 7")
        .replace('kind = "grade"', 'kind = "guess"')
        .replace('plain_label = "Nose"\n', "")
        .replace('group = "Head"', 'group = "Head"\ncolour = "red"')
    )
    with pytest.raises(ProtocolFileError) as caught:
        load_bytes("ferret.toml", broken.encode())
    listed = sorted(reasons(caught.value))
    assert listed == [
        "ferret.toml: regions(nose).plain_label: missing",
        "ferret.toml: regions(nose).terms(discharge).label: expected str, found int",
        "ferret.toml: regions(nose): unknown key colour",
        "ferret.toml: version: expected int, found str",
        "ferret.toml: vitals(body_condition).kind: "
        "'guess' is none of measure, rate, grade, choice",
    ]


def test_refusal_says_that_the_file_is_not_used_and_what_to_do_next():
    assert "not used" in ProtocolFileError.advice
    assert "Correct each fault" in ProtocolFileError.advice
