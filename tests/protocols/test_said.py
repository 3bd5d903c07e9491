"""Other ways to say a thing: in a protocol, in the trade's file and in a practice's."""

import json
from importlib.resources import files

import pytest

from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.words.line_reader import read_line
from exam_app.domain.words.trade_words import TradeWords
from exam_app.protocols.codec import FORMAT, ProtocolFileError, ProtocolTooNewError
from exam_app.protocols.loader import available, load_bytes, load_content, load_protocol
from exam_app.protocols.trade_words import FILE_NAME, read_words, trade_words, words_of
from tests.line_reading import shown, words_of_scope


def _with_said(way: str = "cone-shaped", written: int = FORMAT) -> bytes:
    text = files("exam_app.protocols").joinpath("dog.toml").read_text("utf-8")
    before = 'id = "squint"'
    assert before in text
    text = text.replace("format = 3", f"format = {written}", 1)
    return text.replace(before, f'{before}, said = ["{way}"]', 1).encode()


def test_a_protocol_that_says_nothing_more_keeps_its_content_and_hash():
    """Records name a protocol by its hash: what is not used changes nothing."""
    for species in available():
        loaded = load_protocol(species)
        assert json.loads(loaded.content)["format"] == 3
        assert b'"said"' not in loaded.content


def test_a_find_is_understood_by_its_other_words():
    loaded = load_bytes("dog.toml", _with_said("eye held tight"))
    words = words_of_scope(loaded.protocol, Scope.TECHNICIAN, trade_words())
    (item,) = read_line(words, "left eye, eye held tight").items
    assert shown(item) == "eyes.left squint"


def test_a_content_with_other_words_is_of_a_format_an_older_build_refuses():
    loaded = load_bytes("dog.toml", _with_said())
    assert json.loads(loaded.content)["format"] == FORMAT == 4
    assert load_content(loaded.content).protocol == loaded.protocol
    later = json.loads(loaded.content)
    later["format"] = FORMAT + 1
    with pytest.raises(ProtocolTooNewError):
        load_content(json.dumps(later).encode())


def test_a_file_with_other_words_has_to_say_its_format():
    with pytest.raises(ProtocolFileError, match="needs format = 4"):
        load_bytes("dog.toml", _with_said(written=3))


def test_a_word_for_two_finds_of_one_part_is_refused():
    with pytest.raises(ProtocolFileError, match="“Bulging” means"):
        load_bytes("dog.toml", _with_said("Bulging"))


def test_an_empty_word_is_refused():
    with pytest.raises(ProtocolFileError, match="1 to 200 letters"):
        load_bytes("dog.toml", _with_said(" "))


def test_the_trades_words_mean_one_thing_each():
    assert trade_words().faults() == ()


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('[vitals]\nweight = ["HR"]', "“HR” means heart_rate already"),
        ('[regions]\ntail = ["abdo"]', "“abdo” means abdomen already"),
        ('[terms]\n"heart.fast" = ["murmur"]', "“murmur” means heart.murmur already"),
        ('[sides]\nright = ["lt"]', "“lt” means left already"),
        ('[vitals]\nweight = ["abdo"]', "name it in two_kinds"),
        ('[pairs]\nXX = ["eyes", "middle"]', "left, right or both"),
        ('[words]\nmaybe = ["eh"]', "no use"),
        ('[tricks]\na = ["b"]', "unknown table"),
        ("[vitals]\nweight = 7", "1 to 200 letters"),
        ('[vitals]\nweight = [""]', "1 to 200 letters"),
        ("vitals = 3", "expected a table"),
        ("[phrases]\nok = 3", "1 to 500 letters"),
        ('[phrases]\nok = ""', "1 to 500 letters"),
        ("[vitals", "no TOML"),
        ("\x00", "no TOML"),
    ],
)
def test_a_practices_words_with_a_fault_are_not_used_and_hide_nothing(
    tmp_path, text, told
):
    (tmp_path / FILE_NAME).write_text(text)
    found = words_of(tmp_path)
    assert found.trade == trade_words()
    assert found.refused is not None
    assert told in str(found.refused)


def test_hostile_bytes_are_refused_and_nothing_else_happens(tmp_path):
    path = tmp_path / FILE_NAME
    for content in (b"\xff\xfe", b"[" * 100_000, b"a = 1\n" * 200_000):
        path.write_bytes(content)
        assert words_of(tmp_path).refused is not None
    good = b'[vitals]\nheart_rate = ["ticker"]\n'
    for cut in range(len(good)):
        path.write_bytes(good[:cut])
        words_of(tmp_path)


def test_a_practices_own_word_is_understood(tmp_path):
    (tmp_path / FILE_NAME).write_text('[vitals]\nheart_rate = ["ticker"]\n')
    found = words_of(tmp_path)
    words = words_of_scope(load_protocol("dog").protocol, Scope.TECHNICIAN, found.trade)
    (item,) = read_line(words, "ticker 88").items
    assert shown(item) == "heart_rate=88 beat/min"
    assert item.is_sure


def test_a_short_form_is_written_out_and_told(tmp_path):
    (tmp_path / FILE_NAME).write_text('[phrases]\n"usual" = "mm pink, CRT 1 s"\n')
    words = words_of_scope(
        load_protocol("dog").protocol, Scope.TECHNICIAN, words_of(tmp_path).trade
    )
    line = read_line(words, "Usual, HR 88; unusually calm")
    assert line.text == "mm pink, CRT 1 s, HR 88; unusually calm"
    assert line.expanded == {"usual": "mm pink, CRT 1 s"}
    assert {shown(item) for item in line.items if item.is_sure} == {
        "mucous_membrane_colour=pink",
        "capillary_refill_time=1 s",
        "heart_rate=88 beat/min",
    }


def test_a_short_form_brings_in_no_other():
    trade = TradeWords(phrases={"a": "b b", "b": "a a"})
    words = words_of_scope(load_protocol("dog").protocol, Scope.TECHNICIAN, trade)
    assert read_line(words, "a").text == "b b"


def test_no_folder_is_no_fault(tmp_path):
    found = words_of(tmp_path / "missing")
    assert found.trade is trade_words()
    assert found.refused is None


def test_every_table_of_the_file_is_read():
    words = read_words("w.toml", b'two_kinds = ["q"]\n[either]\na = "b"\n')
    assert words.two_kinds == ("q",)
    assert words.either == {"a": "b"}
