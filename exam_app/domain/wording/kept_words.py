"""Words that a record keeps in English, as a screen shows them.

A record, its signature and its forms are English. What the app offered for a field is
shown in the language that was chosen; whatever else stands there is a person's own
words, or those of another protocol, and is shown as it stands.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from functools import cache

from exam_app.language.catalogue import ENGLISH, chosen, to_translate, tr

OFFERED = frozenset(
    (
        # Why something was not done.
        to_translate("unsafe"),
        to_translate("refused"),
        to_translate("too stressed"),
        to_translate("owner declined"),
        to_translate("outside my training: for the veterinarian"),
        to_translate("no equipment"),
        to_translate("could not be seen"),
        to_translate("not tolerated"),
        to_translate("no scanner here"),
        to_translate("scanner not working"),
        # Why a part is not there.
        to_translate("docked"),
        to_translate("removed (enucleated)"),
        to_translate("amputated"),
        to_translate("other sex"),
        to_translate("born without"),
        to_translate("known from before"),
        # Of a find: since when, and how a lump lies.
        to_translate("today"),
        to_translate("a few days"),
        to_translate("weeks"),
        to_translate("months"),
        to_translate("always"),
        to_translate("not known"),
        to_translate("along the body"),
        to_translate("across the body"),
        to_translate("top to bottom"),
        # The rhythm of a rate.
        to_translate("regular"),
        to_translate("varies with breathing"),
        to_translate("dropped beats"),
        to_translate("irregular without pattern"),
        # How somebody was told.
        to_translate("in person"),
        to_translate("phone"),
        to_translate("message"),
        # Of a bite.
        to_translate("washed at once"),
        to_translate("not washed yet"),
        to_translate("nobody yet"),
        to_translate("the owner"),
        to_translate("a physician"),
        to_translate("the health office"),
        # Of a visit, and of what was given.
        to_translate("spoken"),
        to_translate("in writing"),
        to_translate("by phone"),
        to_translate("stray"),
        to_translate("found, brought in"),
        to_translate("given up by its owner"),
        to_translate("transfer"),
        to_translate("returned"),
        to_translate("seized"),
        to_translate("born in care"),
        to_translate("blood"),
        to_translate("urine"),
        to_translate("droppings"),
        to_translate("swab"),
        to_translate("skin scraping"),
        to_translate("by mouth"),
        to_translate("under the skin"),
        to_translate("into a muscle"),
        to_translate("into a vein"),
        to_translate("on the skin"),
        to_translate("intake"),
        to_translate("later day"),
        to_translate("before release"),
        # Why an exam was stopped early.
        to_translate("urgent"),
        to_translate("owner stopped it"),
        to_translate("escaped"),
        to_translate("died"),
        to_translate("veterinarian stopped it"),
    )
)
_HOLE = re.compile(r"\{(\w+)\}")


def offered(words: str) -> str:
    """Return words that the app offered in the chosen language, all others as typed."""
    return tr(words) if words in OFFERED else words


REASONS = (
    to_translate("stopped early: {reason}"),
    to_translate("not examined: {reason}"),
    to_translate("not all seen: {reason}"),
    to_translate("not present: {reason}"),
)


def reason_shown(reason: str) -> str:
    """Return why something was left undone or is not there, as it is shown."""
    if reason in OFFERED:
        return tr(reason)
    return sentence_shown(reason, REASONS)


def sentence_shown(text: str, messages: Iterable[str]) -> str:
    """Return a sentence that the app wrote into a record, as it is shown.

    Args:
        text: In English, as it is kept.
        messages: The sentences it may be, with ``{name}`` where a value stands; the
            first that fits is shown, and a text that fits none stays as it is.
    """
    for message in messages:
        found = message_pattern(message, _anything).fullmatch(text)
        if found:
            values = {name: offered(said) for name, said in found.groupdict().items()}
            return tr(message, **values)
    return text


def _anything(_name: str) -> str:
    return ".+"


@cache
def message_pattern(message: str, form: Callable[[str], str]) -> re.Pattern[str]:
    """Return what a text made by a message looks like.

    Args:
        message: With ``{name}`` where a value stands; the group of that name.
        form: Gives the pattern of a value by its name.
    """
    parts = enumerate(_HOLE.split(message))
    made = (f"(?P<{p}>{form(p)})" if place % 2 else re.escape(p) for place, p in parts)
    return re.compile("".join(made), re.DOTALL)


def list_shown(text: str, shown: Mapping[str, str], between: str) -> str:
    """Return a list that was kept as one text, as it is shown.

    Args:
        text: In English, as it is kept.
        shown: What of it is known, each with the words shown for it.
        between: What stands between two of the list.
    """
    if chosen() == ENGLISH:
        return text
    longest_first = sorted(filter(None, shown), key=len, reverse=True)
    said: list[str] = []
    while text:
        fits = (one for one in longest_first if f"{text}{between}".startswith(one))
        words = next(
            (
                one
                for one in fits
                if text[len(one) :].startswith(between) or text == one
            ),
            text.partition(between)[0],
        )
        said.append(shown.get(words, words))
        text = text[len(words) + len(between) :]
    return between.join(said)
