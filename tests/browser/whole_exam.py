"""Walk a whole dog exam the way a person does, counting the taps.

A tap is one press of a control, also where it only brings up the part that is answered
next; a field that is typed in is one tap. The signs of what is typed, on a pad or a
keyboard, are counted apart.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from exam_app.domain.exam.exam import Exam, keys_in_scope
from exam_app.domain.protocol.protocol import split_key
from exam_app.protocols.loader import load_protocol
from tests.browser.driver import Driver, line_of

PROTOCOL = load_protocol("dog").protocol
# What is watched before any touch: the vitals come up after it.
FIRST = "distance"


@dataclass
class Hand:
    """A hand that taps and types, and remembers how often.

    Attributes:
        signs: How many signs were typed.
    """

    driver: Driver
    taps: list[str] = field(default_factory=list)
    signs: int = 0

    def tap(self, identifier: str) -> None:
        if self.driver.bring_up(identifier):
            self.taps.append(line_of(identifier))
        self.taps.append(identifier)
        self.driver.click(identifier)

    def type(self, identifier: str, text: str) -> None:
        self.taps.append(identifier)
        self.signs += len(text)
        self.driver.type(identifier, text)

    def pad(self, keys: Iterable[str]) -> None:
        for key in keys:
            self.signs += 1
            self.driver.click(f"pad-{key}")


def rows_of(exam: Exam) -> list[tuple[str, tuple[str, ...]]]:
    """Return each row below the vitals: its region and the keys it answers."""
    rows: dict[str, list[str]] = {}
    for key in keys_in_scope(exam, PROTOCOL):
        if split_key(key)[0] != FIRST:
            rows.setdefault(split_key(key)[0], []).append(key)
    return [(region_id, tuple(keys)) for region_id, keys in rows.items()]


def answer_row(hand: Hand, region_id: str) -> None:
    """Record "no abnormality found" for one row, both sides where it has two."""
    driver = hand.driver
    hand.tap(f"region-{region_id}-normal")
    wait_answered(driver, region_id)


def wait_answered(driver: Driver, region_id: str) -> None:
    """Wait for what a row says once it is answered."""
    start = f"region-{region_id}"
    driver.any_of(f"{start}-state", f"{start}.left-state")


def take_vitals(hand: Hand) -> None:
    """Watch from a distance, then answer each vital that comes up, within ranges."""
    answer_row(hand, FIRST)
    take_weight(hand)
    take_rate(hand, "resting", "20")
    take_rate(hand, "", "90")
    hand.pad(("3", "8", "point", "4"))
    hand.tap("vital-save")
    hand.driver.wait_text("vital-temperature", "38.4")
    give_words(hand)


def take_intake_vitals(hand: Hand) -> None:
    """Watch from a distance, then answer the three vitals that an intake requires."""
    answer_row(hand, FIRST)
    take_weight(hand)
    take_rate(hand, "resting", "20")
    hand.tap("vital-grade-0")
    hand.driver.wait_text("vital-mentation", "0 (0 to 5): bright")


def take_weight(hand: Hand) -> None:
    """Tap ten kilograms on the pad."""
    hand.pad("10")
    hand.tap("vital-save")
    hand.driver.wait_text("vital-weight", "10 kg")


def take_rate(hand: Hand, state: str, per_minute: str) -> None:
    """Type a rate counted elsewhere, with what the animal was doing.

    Args:
        state: Empty where that of the rate before still holds.
    """
    vital_id = "respiratory_rate" if state else "heart_rate"
    if state:
        hand.tap(f"vital-state-{state}")
    hand.pad(per_minute)
    hand.tap("vital-save")
    hand.driver.wait_text(f"vital-{vital_id}", f"{per_minute}/min")


def give_words(hand: Hand) -> None:
    """Answer every vital that is a word or a grade, calmly, each with one tap.

    What a grade means stands there before it is given: its number is waited for too.
    """
    for vital_id, answer, said in (
        ("mucous_membrane_colour", "vital-word-pink", "pink"),
        ("capillary_refill_time", "vital-word-1-to-2", "1–2 s"),
        ("hydration_signs", "vital-word-none-seen", "not sunken"),
        ("mentation", "vital-grade-0", "0 (0 to 5): bright"),
        ("pain", "vital-grade-0", "0 (0 to 10): none seen"),
        ("body_condition", "vital-grade-5", "5/9: ribs felt"),
        ("muscle_condition", "vital-grade-normal", "no loss felt"),
    ):
        hand.tap(answer)
        hand.driver.wait_text(f"vital-{vital_id}", said)
