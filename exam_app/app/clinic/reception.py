"""Codes on their way in: what was read of hand-overs, from a camera or as texts.

Scanning can stop and go on any time and in any order. A text that is no part of a
hand-over is named for what it is.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from exam_app.app.view.clinic_arrival_presenter import (
    Completeness,
    completeness,
    scan_words,
)
from exam_app.language.catalogue import to_translate, tr
from sync.transport.collector import Arrival, Collector
from sync.transport.keyboard import Kind, from_keys

# What is counted twice after that is only a number on the screen.
_MOST_SEEN = 4096
_OTHER = to_translate(
    "That text is whole, but it is no part of a hand-over: perhaps a device's answer "
    "to a pairing card, or a receipt. Pairing has its own screen."
)
_STRAY = to_translate(
    "That is no code of a hand-over, or it was cut short. Nothing was lost; what was "
    "read before is kept. Read the next code."
)


@dataclass(slots=True)
class Reception:
    """What was read so far on this computer.

    Attributes:
        read: How many codes were read, each counted once.
        strays: How many of them belong to no hand-over.
    """

    collector: Collector = field(default_factory=Collector)
    read: int = 0
    strays: int = 0
    _seen: set[str] = field(default_factory=set)

    def take_codes(self, codes: Iterable[str]) -> int:
        """Take the codes of one picture.

        Returns:
            How many of them were new to a hand-over.
        """
        return sum(self._take(code) is Arrival.NEW for code in codes)

    def take_typed(self, text: str) -> str:
        """Take what was pasted, or typed by a scanner: one code to a line, or one.

        Returns:
            What is wrong with it; empty for codes of hand-overs.
        """
        lines = [line for line in text.splitlines() if line.strip()]
        problems = list(map(self._problem_with, lines))
        if "" in problems:
            return ""
        # A text that was wrapped over several lines is one text.
        return self._problem_with("".join(lines)) if lines else tr(_STRAY)

    def finished(self) -> list[bytes]:
        """Give the sealed hand-overs completed since the last call."""
        return self.collector.finished()

    def progress(self) -> tuple[Completeness, ...]:
        """Say how far each hand-over is; those still under way first."""
        shown = [
            completeness(one.tag, one.have, one.needed)
            for one in self.collector.progress()
        ]
        return tuple(sorted(shown, key=lambda one: one.is_complete))

    def words(self) -> str:
        """Say how many codes were read."""
        return scan_words(self.read, self.strays)

    def _problem_with(self, text: str) -> str:
        if self._take(text) is not Arrival.STRAY:
            return ""
        try:
            is_whole = from_keys(text).kind is Kind.CONTENT
        except ValueError:
            return tr(_STRAY)
        return tr(_OTHER if is_whole else _STRAY)

    def _take(self, text: str) -> Arrival:
        arrival = self.collector.add(text)
        if len(self._seen) >= _MOST_SEEN:
            self._seen.clear()
        if text not in self._seen:
            self._seen.add(text)
            self.read += 1
            self.strays += arrival is Arrival.STRAY
        return arrival
