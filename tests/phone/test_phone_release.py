"""What a phone says of its release: what its keeper answers, and nothing made up."""

import asyncio
import sys
from types import SimpleNamespace

import pytest

from exam_app.app.maintenance.phone_words import (
    Release,
    about_words,
    newer_words,
    read_release,
    release_of,
)
from exam_app.store.engine import browser_files
from exam_app.store.engine.files import open_file
from tests.own_place import Place

NUMBER = "0123456789ab"
SETTLED = f'{{"release": "{NUMBER}", "newer": false}}'
WAITING = f'{{"release": "{NUMBER}", "newer": true}}'


@pytest.fixture
def keeper(monkeypatch):
    """Answer as the keeper would; returns what was asked."""

    def answering(text):
        asked = []

        async def read():
            if isinstance(text, Exception):
                raise text
            return text

        async def fetch(place):
            asked.append(place)
            return SimpleNamespace(text=read)

        monkeypatch.setitem(sys.modules, "js", SimpleNamespace(fetch=fetch))
        return asked

    return answering


async def test_on_a_computer_nothing_is_asked_and_nothing_said(keeper):
    asked = keeper(WAITING)
    assert await release_of(open_file) is None
    assert asked == []
    assert newer_words(None) == ""


async def test_a_phones_keeper_is_asked_which_release_it_answers_with(keeper):
    asked = keeper(SETTLED)
    assert await release_of(Place()) == Release(NUMBER, newer_waits=False)
    assert asked == ["/release"]


async def test_a_keeper_that_does_not_answer_holds_no_screen_back(monkeypatch):
    async def fetch(_place):
        await asyncio.Event().wait()

    monkeypatch.setitem(sys.modules, "js", SimpleNamespace(fetch=fetch))
    monkeypatch.setattr(browser_files, "ANSWER_SECONDS", 0.01)
    async with asyncio.timeout(10):
        assert await release_of(Place()) is None


async def test_a_browser_that_refuses_the_question_holds_no_screen_back(keeper):
    keeper(RuntimeError("no network"))
    assert await release_of(Place()) is None


@pytest.mark.parametrize(
    "text",
    [
        "",
        "<!doctype html><title>Log in</title>",
        "[]",
        "null",
        "{}",
        "1e999",
        '{"release": 12}',
        '{"release": "0123456789AB"}',
        '{"release": "0123"}',
    ],
)
def test_what_is_not_the_keepers_answer_is_no_release(text):
    assert read_release(text) is None


def test_only_a_plain_yes_counts_as_a_newer_release():
    said = f'{{"release": "{NUMBER}", "newer": "true"}}'
    assert read_release(said) == Release(NUMBER, newer_waits=False)


def test_the_release_is_named_and_a_newer_one_asks_to_be_let_in_after_the_exam():
    settled, waiting = read_release(SETTLED), read_release(WAITING)
    assert about_words(settled) == f"Release {NUMBER}, kept whole on this device."
    assert newer_words(settled) == ""
    assert NUMBER in about_words(waiting)
    for words in (about_words(waiting), newer_words(waiting)):
        assert "close the app in every window and open it again" in words
        assert "exams stay" in words
