"""Lines that a row of the store keeps in English, as a list shows them.

A row holds what its exam said when it was saved: lines of the headline, what presses,
what was found first. In another language such a line is taken apart into the sentences
and the words that it was made of. What is not recognised is a person's own, or of
another protocol, and stands as it is kept.
"""

import re
from collections.abc import Iterable, Mapping

from exam_app.domain.animal.body_marks import drawing_names
from exam_app.domain.exam.findings import Call, Severity
from exam_app.domain.lumps.lumps import FEEL_WORDS
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.kept_words import OFFERED, message_pattern
from exam_app.language.catalogue import ENGLISH, chosen, to_translate, tr, tr_plural

# Of whole lines; what stands in braces is taken apart in its turn.
_SENTENCES = (
    to_translate("BITE OR SCRATCH: {concern}"),
    to_translate("URGENT, NOT YET TOLD: {signs}"),
    to_translate("URGENT: {signs}"),
    to_translate("URGENT {signs}: {told}"),
    to_translate("SEX NOT SETTLED: two records say otherwise which parts it has"),
    to_translate("SEX NOTED AS {sex}, but not present (other sex): {parts}"),
    to_translate("Not done: {groups}"),
    to_translate("Beside the finding nothing is said of the rest: {parts}"),
    to_translate("Beside the finding not all is said of the rest: {parts}"),
    to_translate("CORRECTED after closing: {items}"),
    to_translate("ANSWERED AGAIN in a continuation, both stand: {items}"),
    to_translate("Everything this exam requires was answered"),
    to_translate("Everything in the scope of this exam was answered"),
)
# Of what stands between two separators; the first that fits.
_PHRASES = (
    to_translate("told {whom} {time}"),
    to_translate("tried, not reached: {whom} {time}"),
    to_translate("examiner is the veterinarian, {time}"),
    to_translate("NOBODY TOLD"),
    to_translate("mark {number}, {drawing}"),
    to_translate("stopped early: {reason}"),
    to_translate("not examined: {reason}"),
    to_translate("not all seen: {reason}"),
    to_translate("not present: {reason}"),
    to_translate("URGENT: {sign}"),
    to_translate("{drawing}, closer drawing"),
    to_translate("second reading {size}"),
    to_translate("pain on touch: {shown}"),
    to_translate("since {when}"),
    to_translate("left and right {part}"),
    to_translate("left {part}"),
    to_translate("right {part}"),
    to_translate("rabies concern: {concern}"),
    to_translate("quarantine: {dates}"),
    to_translate("{places} of {count} published ranges, inside one far off"),
    to_translate("{places} of {count} published ranges, inside {far_off} far off"),
    to_translate("inside {inside} of {count} published ranges, {places}"),
    to_translate("between the published ranges: {places}"),
    to_translate("{count} more"),
)
_PLURALS = (
    ("{count} part", "{count} parts"),
    ("{count} vital", "{count} vitals"),
    ("and {count} more line in the record", "and {count} more lines in the record"),
)
_ALL = frozenset(
    (
        to_translate("left"),
        to_translate("right"),
        to_translate("on the midline"),
        to_translate("partly"),
        to_translate("chip scan"),
        to_translate("below its range"),
        to_translate("above its range"),
        to_translate("the examiner"),
        to_translate("bitten or scratched"),
        to_translate("rabies concern noted"),
        to_translate("calliper"),
        to_translate("ruler"),
        to_translate("tape"),
        to_translate("by eye"),
        to_translate("above the published range"),
        to_translate("below the published range"),
        to_translate("above both published ranges"),
        to_translate("below both published ranges"),
    )
)
_COUNTED = (
    to_translate("above all {count} published ranges"),
    to_translate("below all {count} published ranges"),
    to_translate("above {count}"),
    to_translate("below {count}"),
)
_BETWEEN = re.compile(r"(; |: |, | \(|\))")
# Numbers in a message are no words: any other text would fit as well.
_NUMBER, _CLOCK = r"[0-9]+", r"[0-9]{1,2}:[^;]*"
_FORMS = {
    "count": _NUMBER,
    "inside": _NUMBER,
    "far_off": _NUMBER,
    "number": _NUMBER,
    "time": _CLOCK,
}
_LONGEST = 13


def _form(name: str) -> str:
    return _FORMS.get(name, ".+?")


def _form_of_phrase(name: str) -> str:
    return _FORMS.get(name, r"[^;()]+?")


def known_of(protocol: SpeciesProtocol | None) -> "KnownWords":
    """Return what lines about a species may be made of; ``None`` knows no species."""
    return KnownWords(_words_of(protocol) if protocol else {})


def _words_of(protocol: SpeciesProtocol) -> Mapping[str, str]:
    """Map each word of a protocol that a line may hold to its message."""
    parts = [(one.label, one.plain_label) for one in protocol.regions]
    vitals = [(one.label, one.plain_label) for one in protocol.vitals]
    labels = [words for named in (*parts, *vitals) for words in named if words]
    return {
        **{words.lower(): words for words in labels},
        **{words: words for words in (*protocol.record_words, *labels)},
    }


class KnownWords:
    """The words of one protocol beside those of the app."""

    def __init__(self, words: Mapping[str, str]) -> None:
        """Know these words, each with its message."""
        calls = (one.value for one in (*Severity, *Call))
        said = (*OFFERED, *_ALL, *FEEL_WORDS, *drawing_names(), *calls)
        self._words = {**words, **{one: one for one in said}}

    def shown(self, lines: Iterable[str]) -> tuple[str, ...]:
        """Return the lines of a row, which are kept in English, as they are shown."""
        if chosen() == ENGLISH:
            return tuple(lines)
        return tuple(map(self._line, lines))

    def _line(self, text: str) -> str:
        for message in _SENTENCES:
            if found := message_pattern(message, _form).fullmatch(text):
                return tr(message, **self._values(found))
        if found := _STOPPED.fullmatch(text):
            reason, note = found.groups()
            return tr(_STOPPED_EARLY, reason=self._part(reason) or reason, note=note)
        return self._parts(text)

    def _has_known(self, found: re.Match[str]) -> bool:
        named = (found.groupdict().get(name) for name in ("part", "drawing"))
        return all(self._part(one) for one in named if one)

    def _values(self, found: re.Match[str]) -> dict[str, str]:
        return {
            name: said if name in _FORMS else self._parts(said)
            for name, said in found.groupdict().items()
        }

    def _parts(self, text: str) -> str:
        """Return a text part by part, the longest that is known first."""
        pieces, said, at = _BETWEEN.split(text), [], 0
        while at < len(pieces):
            ends = range(min(len(pieces), at + _LONGEST), at, -1)
            tried = ((end, self._part("".join(pieces[at:end]))) for end in ends)
            end, shown = next(
                ((end, one) for end, one in tried if one), (at + 1, pieces[at])
            )
            said.append(shown)
            at = end
        return "".join(said)

    def _part(self, text: str) -> str:
        """Return a part as it is shown; empty where it is not known."""
        if message := self._words.get(text):
            shown = tr(message)
            return shown.lower() if message != text else shown
        for message in (*_COUNTED, *_PHRASES):
            found = message_pattern(message, _form_of_phrase).fullmatch(text)
            # Own words may begin with a side too.
            if found and self._has_known(found):
                return tr(message, **self._values(found))
        for one, many in _PLURALS:
            for form in (many, one):
                if found := message_pattern(form, _form).fullmatch(text):
                    return tr_plural(one, many, int(found["count"]))
        return self._measured(text)

    def _measured(self, text: str) -> str:
        """Return the name of a vital and its number; empty where it is neither."""
        name, space, number = text.rpartition(" ")
        while name and name not in self._words:
            name, space, _ = name.rpartition(" ")
        number = text[len(name) + len(space) :]
        if name and number[:1].isdecimal() and not _BETWEEN.search(number):
            return f"{tr(self._words[name])} {number}"
        return ""


_STOPPED_EARLY = to_translate("Stopped early: {reason}{note}")
_STOPPED = re.compile(r"Stopped early: ([^(]+?)((?: \(.*\))?)", re.DOTALL)
