"""A practice's own short forms: written out where they stand, and told."""

import re
from collections.abc import Mapping


def write_out(text: str, phrases: Mapping[str, str]) -> tuple[str, dict[str, str]]:
    """Return a text with short forms written out, and those that were.

    A short form is a word or words by themselves, in any case; what it stands for is
    not looked through again, so that no form can bring in another.
    """
    if not phrases:
        return text, {}
    longest_first = sorted(phrases, key=len, reverse=True)
    known = {_plain(form): form for form in longest_first}
    pattern = "|".join(r"\s+".join(map(re.escape, f.split())) for f in longest_first)
    found: dict[str, str] = {}

    def written(match: re.Match[str]) -> str:
        form = known[_plain(match[0])]
        found[form] = phrases[form]
        return phrases[form]

    whole = re.compile(rf"(?<!\w)(?:{pattern})(?!\w)", re.IGNORECASE)
    return whole.sub(written, text), found


def _plain(form: str) -> str:
    return " ".join(form.lower().split())
