"""Lines changed in one place: what is said changes with it, nothing new is sure."""

import re

import pytest

from exam_app.domain.words import doubts, find_reading, tokens, vital_reading
from exam_app.domain.words.items import Doubt, Item, ItemKind
from tests.line_reading import Wanted, read, score, shown, wanted_lines

LINES = [line for line in wanted_lines("lines.toml") if line.sure]
SWAP = dict(
    zip(
        ["left", "right", "L", "R", "OS", "OD", "AS", "AD", "LF", "RF", "LH", "RH"],
        ["right", "left", "R", "L", "OD", "OS", "AD", "AS", "RF", "LF", "RH", "LH"],
        strict=True,
    )
)
NUMBERED = (ItemKind.VALUE, ItemKind.COUNT, ItemKind.GRADE)


def _sure(text: str, line: Wanted) -> list[Item]:
    return [item for item in read(text, line.species, line.scope).items if item.is_sure]


def _names(items: list[Item]) -> set[str]:
    return {shown(item) for item in items}


@pytest.mark.slow
def test_a_word_of_time_hearsay_or_condition_leaves_nothing_sure() -> None:
    for line in LINES:
        for word in ("yesterday", "owner says", "if", "was", "last week"):
            text = f"{word} {line.text}"
            marks = [m.start() for m in re.finditer(r"[;\n!]|\.(?!\d)", text)]
            end = min(marks, default=len(text))
            left = [i for i in _sure(text, line) if i.start < end]
            assert left == [], (text, _names(left))


@pytest.mark.slow
def test_another_number_put_in_makes_no_new_one_sure() -> None:
    for line in LINES:
        before = _names(_sure(line.text, line))
        for found in re.finditer(r"\d+(?:\.\d+)?", line.text):
            text = f"{line.text[: found.start()]}7 {line.text[found.start() :]}"
            new = [
                shown(item)
                for item in _sure(text, line)
                if item.kind in NUMBERED and shown(item) not in before
            ]
            assert new == [], text


def test_a_changed_digit_leaves_no_old_value() -> None:
    for line in LINES:
        sure = [i for i in _sure(line.text, line) if i.kind in NUMBERED]
        for found in re.finditer(r"\d+(?:\.\d+)?", line.text):
            at = found.start()
            digit = str(int(line.text[at]) % 8 + 1)
            text = line.text[:at] + digit + line.text[at + 1 :]
            held = {shown(i) for i in sure if i.start <= at < i.end}
            now = _names(_sure(text, line))
            # The same value said a second time in the line stays.
            again = {shown(i) for i in sure if not i.start <= at < i.end}
            assert not held & now - again, text


@pytest.mark.slow
def test_an_unknown_word_put_in_makes_nothing_new_sure() -> None:
    for line in LINES:
        before = _names(_sure(line.text, line))
        words = line.text.split(" ")
        for n in range(1, len(words)):
            text = " ".join([*words[:n], "blimp", *words[n:]])
            new = _names(_sure(text, line)) - before
            # A find that lost the word beside it says less, not something else.
            less = {one.partition(" [")[0] for one in before}
            assert {one for one in new if one.partition(" [")[0] not in less} == set()


def test_left_and_right_exchanged_exchange_what_was_said() -> None:
    places = re.compile(
        r"lower|upper|fore|hind|flank|ping|\bR \d|femoral|side|apex|L$|mmol"
    )
    swapped = 0
    # A ping on the left is a find of the rumen, one on the right of the abdomen.
    for line in LINES:
        if places.search(line.text) or not re.search(
            r"\b(left|right|L|R|O[SD]|A[SD])\b", line.text
        ):
            continue
        text = re.sub(
            r"\b(left|right|L|R|OS|OD|AS|AD)\b", lambda m: SWAP[m[0]], line.text
        )
        there = {
            re.sub(r"\b(left|right)\b", lambda m: SWAP[m[0]], one)
            for one in _names(_sure(line.text, line))
        }
        if there != _names(_sure(text, line)):
            # What only one side offers is asked there, and never taken as the other.
            assert _names(_sure(text, line)) <= there, text
        swapped += 1
    assert swapped > 20


# What goes wrong when one rule is left out; each has to be noticed by the lines above.
def _unit_guessed(monkeypatch: pytest.MonkeyPatch) -> None:
    settle = vital_reading._settle_unit

    def guess(*args: object) -> int:
        back = settle(*args)  # type: ignore[arg-type]
        draft = args[1]
        draft.doubts.discard(Doubt.UNIT)  # type: ignore[attr-defined]
        draft.unit = draft.unit or "degC"  # type: ignore[attr-defined]
        return back

    monkeypatch.setattr(vital_reading, "_settle_unit", guess)


def _neighbours_stay_sure(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doubts, "_in_doubt_by", lambda *_: [])


def _doubtful_numbers_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    read_number = tokens._read_number

    def take(token: tokens.Token, *place: object) -> None:
        read_number(token, *place)  # type: ignore[arg-type]
        for spelled in token.all(tokens.Sense.NUMBER):
            token.number, token.is_doubtful = spelled.number, False

    monkeypatch.setattr(tokens, "_read_number", take)


def _comma_ends_a_denial(monkeypatch: pytest.MonkeyPatch) -> None:
    def end(walk: find_reading.Walk, _: object) -> None:
        walk.denial = ""

    monkeypatch.setattr("exam_app.domain.words.line_reader.after_comma", end)


def _side_carried_on(monkeypatch: pytest.MonkeyPatch) -> None:
    read_part = find_reading.read_part

    def carry(walk: find_reading.Walk, i: int, token: object, side: str = "") -> int:
        before = walk.side
        after = read_part(walk, i, token, side)  # type: ignore[arg-type]
        walk.side = walk.side or before
        return after

    for name in ("find_reading", "line_reader"):
        monkeypatch.setattr(f"exam_app.domain.words.{name}.read_part", carry)


@pytest.mark.parametrize(
    "leave_out",
    [
        _unit_guessed,
        _neighbours_stay_sure,
        _doubtful_numbers_taken,
        _comma_ends_a_denial,
        _side_carried_on,
    ],
)
def test_a_rule_left_out_is_noticed(
    leave_out: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    leave_out(monkeypatch)  # type: ignore[operator]
    assert score(wanted_lines("lines.toml")).wrong != []
