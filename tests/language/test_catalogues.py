"""Catalogues say what code and protocols say now, whole and in the same form."""

import gettext
import re
import string
from io import BytesIO

import pytest
from babel import Locale

from exam_app.language.catalogue import LANGUAGES
from tests.catalogues import (
    CATALOGUES,
    OTHERS,
    compiled,
    missing,
    read,
    said_by_code,
    said_by_intake,
    said_by_protocols,
)

# Of the languages here, which species' intake is said in full.
INTAKES = {"es": ("dog",)}
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_UNIT = re.compile(
    r"(?<=\d) ?(°C|°F|%|(?:kg|mg|µg|g|lb|mm|cm|mL|min|s)\b(?!/))",
)


def said(code):
    """Give every message that a language says, with the forms of it."""
    for one in read(code):
        if one.id and all(forms_of(one.string)):
            yield one


def forms_of(text):
    return text if isinstance(text, tuple | list) else (text,)


def placeholders(text):
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def pairs(one):
    """Give each form with the English that it stands for, and whether it is for one."""
    english = forms_of(one.id)
    for number, form in enumerate(forms_of(one.string)):
        yield english[min(number, len(english) - 1)], form, number == 0


@pytest.mark.parametrize("code", OTHERS)
def test_a_catalogue_holds_what_is_said_now_and_nothing_else(code):
    held = {(one.context, _key(one.id)) for one in read(code) if one.id}
    now = said_by_code() | said_by_protocols()
    assert held - now == set()
    assert now - held == set()


def _key(message):
    return tuple(message) if isinstance(message, tuple | list) else message


@pytest.mark.parametrize("code", OTHERS)
def test_what_the_app_reads_is_what_the_translators_wrote(code):
    assert (CATALOGUES / f"{code}.mo").read_bytes() == compiled(read(code))


@pytest.mark.parametrize("code", OTHERS)
def test_a_language_says_every_message_of_the_code(code):
    assert [one for one in missing(read(code)) if one in said_by_code()] == []


@pytest.mark.parametrize("code", OTHERS)
def test_a_language_says_the_whole_intake_of_its_species(code):
    not_said = {text for _, text in missing(read(code))}
    for species in INTAKES[code]:
        assert said_by_intake(species)
        assert said_by_intake(species) & not_said == set()


@pytest.mark.parametrize("code", OTHERS)
def test_a_translation_has_the_placeholders_of_its_message(code):
    wrong = {
        form: placeholders(english) ^ placeholders(form)
        for one in said(code)
        for english, form, is_one in pairs(one)
        if placeholders(english) - ({"count"} if is_one and one.pluralizable else set())
        != placeholders(form) - ({"count"} if is_one and one.pluralizable else set())
    }
    assert wrong == {}


@pytest.mark.parametrize("code", OTHERS)
def test_a_translation_is_filled_in_without_an_error(code):
    count = 0
    for one in said(code):
        for english, form, _ in pairs(one):
            values = dict.fromkeys(placeholders(english) | {"count"}, "7")
            if placeholders(english):
                assert "{" not in form.format(**values)
                count += 1
    assert count > 500


@pytest.mark.parametrize("code", OTHERS)
def test_a_translation_has_the_numbers_and_units_of_its_message(code):
    wrong = {
        form: (numbers(english), numbers(form))
        for one in said(code)
        for english, form, _ in pairs(one)
        if numbers(english) != numbers(form)
    }
    assert wrong == {}


def numbers(text):
    """Return every number in digits and every unit behind one, in any order."""
    return sorted(_NUMBER.findall(text)), sorted(_UNIT.findall(text))


@pytest.mark.parametrize("code", OTHERS)
def test_a_translation_begins_and_ends_in_the_same_space(code):
    wrong = [
        form
        for one in said(code)
        for english, form, _ in pairs(one)
        if spaces(english) != spaces(form)
    ]
    assert wrong == []


def spaces(text):
    return text[: len(text) - len(text.lstrip())], text[len(text.rstrip()) :]


@pytest.mark.reference
@pytest.mark.parametrize("code", OTHERS)
def test_the_form_for_a_number_is_that_of_cldr(code):
    """Babel carries the plural rules of CLDR; ``many`` begins at a million."""
    rule = Locale.parse(code).plural_form
    held = gettext.GNUTranslations(BytesIO(compiled(read(code))))
    one, many = next(
        message.id for message in said(code) if message.id and message.pluralizable
    )
    for count in (*range(201), 1000, 999_999):
        is_one = held.ngettext(one, many, count) == held.ngettext(one, many, 1)
        assert is_one == (rule(count) == "one"), count
    assert held.ngettext(one, many, 1) != held.ngettext(one, many, 2)


def test_a_message_without_its_number_or_space_is_found():
    assert numbers("38.5 °C in 15 s") == (["15", "38.5"], ["s", "°C"])
    assert numbers("15 s") != numbers("15 min")
    assert spaces(" a minute") == (" ", "")
    assert placeholders("{name}: {count} more") == {"name", "count"}


def test_every_other_language_has_a_catalogue():
    assert {path.stem for path in CATALOGUES.glob("*.po")} == LANGUAGES.keys() - {"en"}
