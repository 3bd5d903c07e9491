"""Units first offered and the sign of the number pad, as CLDR says for each country."""

from decimal import Decimal

import pytest
from babel.localedata import locale_identifiers
from babel.numbers import get_decimal_symbol

from exam_app.app.language_choice import system_country
from exam_app.domain.measure.units import parse_reading
from exam_app.domain.protocol.protocol import Scope
from exam_app.language import catalogue
from exam_app.language.regional import (
    FAHRENHEIT,
    POUNDS,
    country_of,
    decimal_sign,
    first_unit,
)
from exam_app.protocols.loader import available, load_protocol
from exam_app.ui.vital.vital_edit import unit_setting
from tests.bracketed import Bracketed
from tests.browser.cheap_app import as_environment_asks
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.in_process import unlocked

# Copied from cldr-core 48.2.0 (npm), supplemental/unitPreferenceData.json.
WEATHER = {
    "001": "celsius",
    "BS": "fahrenheit",
    "BZ": "fahrenheit",
    "KY": "fahrenheit",
    "PR": "fahrenheit",
    "PW": "fahrenheit",
    "US": "fahrenheit",
}
# Of mass, for a person; what is no single unit of ours is passed over.
PERSON = {
    "001": "kilogram",
    "GB": "stone-and-pound",
    "HK": "pound-and-ounce",
    "US": "pound",
}
TEMPERATURE, WEIGHT = ("degC", "degF"), ("kg", "lb", "g")


@pytest.mark.parametrize(
    ("tag", "country"),
    [
        ("es_US.UTF-8", "US"),
        ("en-US", "US"),
        ("es-419", "419"),
        ("zh-Hant-TW", "TW"),
        ("de_AT@euro", "AT"),
        ("es", ""),
        ("C.UTF-8", ""),
        ("", ""),
    ],
)
def test_a_systems_name_of_a_language_may_name_a_country(tag, country):
    assert country_of(tag) == country


def test_a_system_says_how_it_measures_apart_from_its_words():
    assert system_country({}) == ""
    assert system_country({"LANG": "en_US.UTF-8"}) == "US"
    measured = {"LANG": "en_US.UTF-8", "LC_MEASUREMENT": "de_DE.UTF-8"}
    assert system_country(measured) == "DE"
    assert system_country({**measured, "LC_ALL": "es_MX.UTF-8"}) == "MX"


@pytest.mark.reference
def test_fahrenheit_and_pounds_come_first_where_cldr_says_so():
    assert {at for at, unit in WEATHER.items() if unit == "fahrenheit"} == FAHRENHEIT
    assert {at for at, unit in PERSON.items() if unit == "pound"} == POUNDS
    assert first_unit(TEMPERATURE, "US") == "degF"
    assert first_unit(WEIGHT, "US") == "lb"
    assert first_unit(TEMPERATURE, "PR") == "degF"
    assert first_unit(WEIGHT, "PR") == "kg"
    for country in ("ES", "MX", "GB", "419", ""):
        assert first_unit(TEMPERATURE, country) == "degC"
        assert first_unit(WEIGHT, country) == "kg"


def test_a_unit_that_a_protocol_does_not_offer_is_never_first():
    assert first_unit(("kg",), "US") == "kg"
    assert first_unit(("mm", "cm", "in"), "US") == "mm"


def test_every_species_offers_what_the_united_states_are_offered_first():
    for species in available():
        vitals = load_protocol(species).protocol.vitals
        firsts = {
            first_unit(one.measure.units_offered, "US") for one in vitals if one.measure
        }
        assert {"degF", "lb"} <= firsts, species


@pytest.mark.reference
def test_the_key_for_fractions_bears_the_sign_of_cldr():
    spanish = [name for name in locale_identifiers() if name.split("_")[0] == "es"]
    assert len(spanish) > 20
    for name in spanish:
        assert decimal_sign("es", country_of(name)) == get_decimal_symbol(name), name
    assert decimal_sign("en", "US") == get_decimal_symbol("en_US")


@pytest.fixture
def spanish(monkeypatch):
    monkeypatch.setattr(catalogue._Chosen, "translations", Bracketed())
    monkeypatch.setattr(catalogue._Chosen, "code", "es")
    monkeypatch.setattr(catalogue, "_read", lambda _code: Bracketed())
    monkeypatch.setenv("LC_ALL", "es_ES.UTF-8")


@pytest.mark.usefixtures("spanish")
@pytest.mark.parametrize("typed", ["38,5", "38.5"])
def test_a_comma_and_a_point_are_read_alike_in_spanish(typed):
    vital = load_protocol("dog").protocol.vital("temperature")
    reading = parse_reading(typed, "degC", vital.measure)
    assert reading.value == Decimal("38.5")


@pytest.fixture
def exam(tmp_path):
    return prepare_exam(tmp_path / "exams", Scope.TECHNICIAN)


@pytest.mark.parametrize(
    ("tag", "sign"), [("es_ES", ","), ("es_MX", "."), ("en_US", ".")]
)
@pytest.mark.usefixtures("spanish")
def test_the_pad_bears_the_sign_of_its_country_and_enters_the_point(
    exam, monkeypatch, tag, sign
):
    monkeypatch.setenv("LC_ALL", f"{tag}.UTF-8")
    with as_environment_asks(), unlocked(exam) as driver:
        driver.go(f"/exam/{EXAM_ID}/vitals")
        driver.click("vital-temperature")
        driver.wait_text("pad-point", sign)
        for key in ("pad-3", "pad-8", "pad-point", "pad-5"):
            driver.click(key)
        assert driver.value("vital-typed") == "38.5"


@pytest.mark.parametrize(
    ("vital", "typed", "said"),
    [
        ("weight", "22", "22 lb (9.98 kg)"),
        ("temperature", "101.3", "101.3 °F (38.5 °C)"),
    ],
)
def test_in_the_united_states_a_number_is_in_pounds_or_fahrenheit_at_first(
    exam, monkeypatch, vital, typed, said
):
    monkeypatch.setenv("LC_ALL", "en_US.UTF-8")
    with as_environment_asks(), unlocked(exam) as driver:
        driver.go(f"/exam/{EXAM_ID}/vitals")
        driver.click(f"vital-{vital}")
        driver.wait_text("vital-typed", vital.capitalize())
        for key in typed:
            driver.click("pad-point" if key == "." else f"pad-{key}")
        assert driver.value("vital-typed") == typed
        driver.click("vital-save")
        driver.wait_text(f"vital-{vital}", said)


def test_a_unit_that_was_used_comes_first_in_any_country(exam, monkeypatch):
    monkeypatch.setenv("LC_ALL", "en_US.UTF-8")
    with as_environment_asks(), unlocked(exam) as driver:
        kept = driver._app.session.vault.settings
        driver.go(f"/exam/{EXAM_ID}/vitals")
        driver.click("vital-weight")
        driver.wait("pad-lb")
        driver.click("vital-unit-kg")
        driver.wait("pad-point")
        driver.type("vital-typed", "10")
        driver.click("vital-save")
        driver.wait_text("vital-weight", "10 kg")
        assert kept.get(unit_setting("weight")) == "kg"


def test_elsewhere_kilograms_come_first(exam, monkeypatch):
    monkeypatch.setenv("LC_ALL", "en_GB.UTF-8")
    with as_environment_asks(), unlocked(exam) as driver:
        driver.go(f"/exam/{EXAM_ID}/vitals")
        driver.click("vital-weight")
        driver.wait("pad-point")
        assert not driver.has("pad-lb")
