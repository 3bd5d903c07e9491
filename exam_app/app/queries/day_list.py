"""What of the day has to be done first, one line each, the most pressing at the top.

Urgent records that have not reached the clinic, re-checks it asked for, open exams.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from exam_app.app.exam_words import draft_line
from exam_app.app.queries.record_chain import animals_to_recheck
from exam_app.app.view.hand_over_presenter import urgent_first
from exam_app.app.view.kept_rows import lines_shown
from exam_app.app.view.round_presenter import address_of, round_line, without_rows
from exam_app.language.catalogue import tr
from exam_app.store.repositories.rows import ClosedExam, OpenExam
from exam_app.store.vault.vault import Vault

_URGENT = "URGENT"


@dataclass(frozen=True, slots=True)
class DayLine:
    """One line of the day.

    Attributes:
        key: Of the exam or the animal it is about.
        title: What it is, and of whom.
        words: One line of its findings, then where it stands; a line each.
        address: Where it leads.
        animal_id: Of its animal.
    """

    key: str
    title: str
    words: str
    address: str
    animal_id: str


def urgent_lines(rows: Iterable[ClosedExam]) -> tuple[DayLine, ...]:
    """Return the urgent ones of those not handed over, the one closed last first.

    What was found tonight can still be acted on; the oldest has waited already.
    """
    return tuple(
        DayLine(
            row.exam_id,
            tr("Urgent, not handed over: {name}", name=row.name or tr("an animal")),
            _lines(_first_urgent(row), tr("closed {time}", time=row.closed[:16])),
            f"/record/{row.exam_id}",
            row.animal_id,
        )
        for row in reversed(urgent_first(rows))
    )


def _first_urgent(row: ClosedExam) -> str:
    """Return the urgent signs of a record, without the word that the title says."""
    said = next((line for line in row.headline if line.startswith(_URGENT)), "")
    return "".join(lines_shown(row.species, [said.partition(": ")[2]]))


def recheck_lines(vault: Vault) -> tuple[DayLine, ...]:
    """Return the re-checks asked for and not done, the oldest first."""
    found = []
    for animal_id, request in animals_to_recheck(vault):
        animal = vault.animals.shown(animal_id)
        name = animal.name if animal else tr("an animal")
        words = _lines(request.words, tr("asked by {name}", name=request.asked))
        title, way = tr("Re-check asked: {name}", name=name), f"/start/{animal_id}"
        found.append(DayLine(animal_id, title, words, way, animal_id))
    return tuple(found)


def open_lines(
    drafts: Sequence[OpenExam],
    closed_at: Callable[[str], str],
    starter: Callable[[OpenExam], str],
    today: str,
) -> tuple[DayLine, ...]:
    """Return the open exams, the one changed last first; a round is one line.

    Args:
        drafts: As the store gives them.
        closed_at: Tells when the record of an exam id was closed; empty if it is not
            here.
        starter: Names who began it; empty where it is the one who examines now.
        today: The date, as ``2026-05-01``.
    """
    return tuple(
        DayLine(
            row.exam_id,
            _open_title(row, closed_at, today),
            _lines(
                *lines_shown(row.species, [row.found]),
                round_line(row, drafts),
                _state(row, starter),
            ),
            address_of(row),
            row.animal_id,
        )
        for row in without_rows(drafts)
    )


def _open_title(row: OpenExam, closed_at: Callable[[str], str], today: str) -> str:
    name = row.name or tr("an animal")
    if row.is_group:
        return tr("Open round: {name}", name=name)
    earlier = row.exam_id if row.revision else row.continues
    if not earlier:
        return tr("Open: {name}", name=name)
    closed = closed_at(earlier)
    day, clock = closed[:10], closed[11:16]
    when = clock if day == today else day
    if row.revision and when:
        return tr("Corrects {name} of {when}", name=name, when=when)
    if row.revision:
        return tr("Corrects {name}", name=name)
    if when:
        return tr("Continues {name} of {when}", name=name, when=when)
    return tr("Continues {name}", name=name)


def _state(row: OpenExam, starter: Callable[[OpenExam], str]) -> str:
    """Describe it as an exam of its own: the title says what it continues."""
    return draft_line(replace(row, continues="", revision=0), starter(row))


def _lines(*texts: str) -> str:
    return "\n".join(filter(None, texts))
