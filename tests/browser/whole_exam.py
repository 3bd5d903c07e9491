"""Walk a whole dog exam the way a person does, counting the taps.

A tap is one press of a control, a pad's digit included; typing on a keyboard counts
as one tap for the field.
"""

from dataclasses import dataclass, field

from exam_app.domain.exam.exam import Exam, keys_in_scope
from exam_app.domain.protocol.protocol import split_key
from exam_app.protocols.loader import load_protocol
from tests.browser.driver import Driver

PROTOCOL = load_protocol("dog").protocol


@dataclass
class Hand:
    """A hand that taps and types, and remembers how often."""

    driver: Driver
    taps: list[str] = field(default_factory=list)

    def tap(self, identifier: str) -> None:
        self.taps.append(identifier)
        self.driver.click(identifier)

    def type(self, identifier: str, text: str) -> None:
        self.taps.append(identifier)
        self.driver.type(identifier, text)

    def pad(self, keys: str) -> None:
        for key in keys:
            self.tap(f"pad-{key}")


def rows_of(exam: Exam) -> list[tuple[str, tuple[str, ...]]]:
    """Return each row of the exam's list: its region and the keys it answers."""
    rows: dict[str, list[str]] = {}
    for key in keys_in_scope(exam, PROTOCOL):
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
    """Give every vital of a technician exam an answer within the ranges."""
    take_weight(hand)
    take_rate(hand, "respiratory_rate", "20")
    take_rate(hand, "heart_rate", "90")
    hand.tap("vital-temperature")
    hand.type("vital-typed", "38.4")
    _save(hand)
    give_words(hand)


def take_weight(hand: Hand) -> None:
    """Tap ten kilograms on the pad."""
    hand.tap("vital-weight")
    hand.pad("10")
    _save(hand)


def take_rate(hand: Hand, vital_id: str, per_minute: str) -> None:
    """Type a rate counted elsewhere, with what the animal was doing."""
    hand.tap(f"vital-{vital_id}")
    hand.tap("vital-state-resting")
    hand.tap("vital-type")
    hand.pad(per_minute)
    _save(hand)


def give_words(hand: Hand) -> None:
    """Answer every vital that is a word or a grade, calmly."""
    for vital_id, answer in (
        ("mucous_membrane_colour", "vital-word-pink"),
        ("capillary_refill_time", "vital-word-1-to-2"),
        ("hydration_signs", "vital-word-none-seen"),
        ("mentation", "vital-grade-0"),
        ("pain", "vital-grade-0"),
        ("body_condition", "vital-grade-5"),
        ("muscle_condition", "vital-grade-normal"),
    ):
        hand.tap(f"vital-{vital_id}")
        hand.tap(answer)
        if vital_id == "hydration_signs":
            hand.tap("vital-save")
        hand.driver.gone("sheet")


def _save(hand: Hand) -> None:
    hand.tap("vital-save")
    hand.driver.gone("sheet")
