"""Walk the whole job with an animal of any species: added, examined, signed, read."""

from decimal import Decimal

from exam_app.app.view.exam_places import sections, vital_of
from exam_app.domain.animal.signalment import Animal, Sex
from exam_app.domain.exam.exam import Exam, keys_in_scope, required_vitals
from exam_app.domain.protocol.intervals import applicable
from exam_app.domain.protocol.protocol import (
    Scope,
    SpeciesProtocol,
    Term,
    Vital,
    VitalKind,
    split_key,
)
from tests.browser.driver import Driver
from tests.browser.exam_drafts import begun
from tests.browser.prepared import PIN
from tests.browser.whole_exam import Hand

_BELIEVES = ("vital-asked-yes", "vital-keep-count", "vital-flag-seen")


def asked_of(exam: Exam, protocol: SpeciesProtocol) -> list[str]:
    """Return the places that have to be answered, in the order of the list."""
    parts = {split_key(key)[0] for key in keys_in_scope(exam, protocol)}
    vitals = {vital.vital_id for vital in required_vitals(exam, protocol)}
    listed = (place for one in sections(exam, protocol) for place in one.places)
    return [p for p in listed if p in parts or vital_of(p) in vitals]


def usual(protocol: SpeciesProtocol, vital: Vital) -> str:
    """Return a number amid what was published, else amid what may be typed unasked."""
    measure = vital.measure
    assert measure is not None
    rows = applicable(protocol.intervals, measure.measure_id, "adult", "clinic", "")
    ends = [(row.low, row.high) for row in rows if row.low and row.high]
    low, high = ends[0] if ends else (measure.plausible_low, measure.plausible_high)
    middle = ((low or Decimal(0)) + (high or Decimal(0))) / 2
    return str(middle.quantize(measure.precision))


def answer_vital(hand: Hand, protocol: SpeciesProtocol, vital: Vital) -> None:
    """Answer a vital calmly, as it stands in the zone."""
    driver = hand.driver
    scale = protocol.scale(vital.scale_id)
    if scale is not None:
        has_middle = vital.vital_id == "body_condition"
        at = len(scale.grades) // 2 if has_middle else 0
        hand.tap(f"vital-grade-{scale.grades[at].value}")
    elif vital.choices and vital.kind is not VitalKind.RATE:
        calm = [one.value for one in vital.choices if not one.urgent_sign_id]
        normal = next(v for v in calm if v not in ("under_1", "tacky"))
        hand.tap(f"vital-word-{normal.replace('_', '-')}")
    else:
        hand.type("vital-typed", usual(protocol, vital))
        if vital.kind is VitalKind.RATE and "Still" not in driver.text("exam-zone"):
            hand.tap("vital-state-resting")
        hand.tap("vital-save")
        # A number that is asked about, or flagged, is believed.
        while (asked := driver.any_of("exam-zone", *_BELIEVES)) in _BELIEVES:
            hand.tap(asked)
            driver.gone(asked)


def find_left(hand: Hand, part: str, term: Term) -> None:
    """Find something on the left, nothing on the right, and say the rest."""
    hand.tap(f"region-{part}-finding")
    hand.tap("finding-side-left")
    hand.tap(f"finding-term-{term.term_id}")
    hand.tap("finding-done")
    hand.driver.gone("sheet")
    hand.tap(f"region-{part}.right-normal")
    hand.tap(f"region-{part}.left-rest")


def find_of(protocol: SpeciesProtocol) -> tuple[str, Term]:
    """Return a part with two sides and a find of it that opens no urgent sign."""
    return next(
        (region.region_id, term)
        for region in protocol.regions
        if region.sides and Scope.TECHNICIAN in region.scopes
        for term in region.terms
        if not (term.urgent_sign_id or term.scale_id or term.is_lump)
    )


def wait_counted(driver: Driver, before: str, place: str) -> None:
    """Wait until the progress says more than before."""
    driver.until(lambda: driver.text("exam-progress") != before, f"counted: {place}")


def walk_species(driver: Driver, species: str) -> None:
    """Add an animal, examine it with one find, sign, and read the find in the record.

    Args:
        driver: At the first screen.
        species: Of the animal.
    """
    # Begun in memory as on the screen, to know what is asked.
    exam, loaded = begun(Animal("9" * 32, "Bruno Demo", species, sex=Sex.MALE))
    protocol = loaded.protocol
    hand = Hand(driver)
    driver.click("day-new")
    driver.click("animal-add")
    driver.click(f"animal-add-{species}")
    driver.type("animal-name", exam.animal.name)
    driver.click("animal-sex-male")
    driver.click("animal-save")
    driver.click("start-scope-technician")
    driver.click("start-go")
    driver.wait("exam-progress")
    places, (found_at, term) = asked_of(exam, protocol), find_of(protocol)
    for place in places:
        vital, before = protocol.vital(vital_of(place)), driver.text("exam-progress")
        if vital is not None:
            answer_vital(hand, protocol, vital)
        elif place == found_at:
            find_left(hand, place, term)
        else:
            hand.tap(f"region-{place}-normal")
        # The next one may offer answers of the same name.
        driver.until(
            lambda before=before: driver.text("exam-progress") != before,
            f"told: {place}",
        )
    driver.click("exam-onward")
    driver.wait_text("review-status", "Nothing is open")
    driver.click("review-close")
    driver.type("close-pin", PIN)
    driver.click("close-sign")
    driver.wait_text("record-signed", "the signature fits")
    region = protocol.region(found_at)
    assert region is not None
    driver.read_down_to(f"{region.label}, left: {term.label}")
    print(f"\n{species}: {len(places)} places, {len(hand.taps)} taps")
