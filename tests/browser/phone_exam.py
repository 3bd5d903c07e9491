"""A whole dog exam on a phone, in two halves with a killed browser between them."""

from dataclasses import dataclass, field

from exam_app.domain.animal.signalment import Animal, Sex
from exam_app.domain.protocol.protocol import Scope
from tests.browser.exam_drafts import begun
from tests.browser.phone_app import PhoneDriver
from tests.browser.phone_steps import PIN
from tests.browser.whole_exam import (
    FIRST,
    Hand,
    answer_row,
    give_words,
    rows_of,
    take_rate,
    take_weight,
    wait_answered,
)

FOUND_IN = "skin_coat"
FOUND = "a thumb's width of bare skin"
# 104.4 °F is 40.2 °C: above every range for adult dogs in a clinic, the highest being
# 39.9 °C (Peterson 2013, healthy dogs in a hospital).
TOO_WARM = "104.4"
VITALS_SHOWN = (
    ("weight", "10 kg"),
    ("respiratory_rate", "20/min"),
    ("heart_rate", "90/min"),
    ("temperature", TOO_WARM),
    ("mucous_membrane_colour", "pink"),
    ("capillary_refill_time", "1"),
)


def rows_asked(scope: Scope) -> list[str]:
    """Return the rows of a male dog's exam, from head to tail."""
    exam, _ = begun(Animal("c" * 32, "Bramble", "dog", sex=Sex.MALE), scope)
    return [region_id for region_id, _ in rows_of(exam)]


@dataclass
class WholeExam:
    """The rows of a male dog's technician exam, and which were answered."""

    driver: PhoneDriver
    answered: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Work out the rows from the protocol, as the screen does for itself."""
        self.rows = rows_asked(Scope.TECHNICIAN)

    def first_half(self) -> None:
        """Take the vitals and answer half the rows."""
        self._take_vitals()
        for region_id in self.rows[: len(self.rows) // 2]:
            self._answer(region_id)

    def second_half(self) -> None:
        """Answer the rest, one row with a finding for the veterinarian."""
        for region_id in self.rows[len(self.rows) // 2 :]:
            if region_id == FOUND_IN:
                self._describe()
            else:
                self._answer(region_id)

    def found_again(self) -> None:
        """Read every answer of the first half off the screen."""
        for vital_id, said in VITALS_SHOWN:
            self.driver.scroll_to(f"vital-{vital_id}")
            self.driver.wait_text(f"vital-{vital_id}", said)
        for region_id in self.answered:
            self.driver.scroll_to(f"region-{region_id}-row")
            wait_answered(self.driver, region_id)

    def close(self) -> None:
        """Review, close with the PIN, and read that the signature fits."""
        driver = self.driver
        driver.click("exam-review")
        driver.wait_text("review-status", "Nothing is open")
        driver.shot("phone-review")
        driver.click("review-close")
        driver.type("close-pin", PIN)
        driver.click("close-sign")
        driver.wait_text("record-signed", "the signature fits")
        driver.shot("phone-record")

    def _answer(self, region_id: str) -> None:
        answer_row(Hand(self.driver), region_id)
        self.answered.append(region_id)

    def _take_vitals(self) -> None:
        driver, hand = self.driver, Hand(self.driver)
        answer_row(hand, FIRST)
        take_weight(hand)
        take_rate(hand, "resting", "20")
        driver.click("vital-state-alert")
        driver.click("vital-other")
        driver.click("vital-count-10")
        driver.wait("count-face")
        driver.wait("count-use")
        hand.pad("15")
        driver.wait_text("count-typed", "15 in 10 s × 6 = 90/min")
        driver.shot("phone-count")
        driver.click("count-use")
        driver.click("vital-unit-degF")
        driver.type("vital-typed", TOO_WARM)
        driver.click("vital-save")
        # So warm a dog is measured twice; this one was, as the examiner says.
        driver.wait("vital-keep-count")
        driver.shot("phone-flag")
        driver.click("vital-keep-count")
        driver.gone("sheet")
        give_words(hand)

    def _describe(self) -> None:
        driver = self.driver
        driver.click(f"region-{FOUND_IN}-finding")
        driver.click("finding-term-hair_loss")
        driver.click("finding-call-veterinarian to look")
        driver.type("finding-note", FOUND)
        driver.shot("phone-finding")
        driver.click("finding-done")
        driver.gone("sheet")
        driver.wait_text(f"region-{FOUND_IN}-row", FOUND)
