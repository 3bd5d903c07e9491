"""A bite or a rabies concern, as every list and screen of its animal says it."""

from collections.abc import Collection, Iterable

from exam_app.language.catalogue import tr
from exam_app.store.repositories.rows import ClosedExam, OpenExam
from exam_app.store.vault.vault import Vault


def concern_words(texts: Iterable[object]) -> str:
    """Join what several exams say, each sentence once; empty when nothing is said."""
    said = dict.fromkeys(str(text) for text in texts if text)
    return tr("BITE OR SCRATCH: {told}", told="; ".join(said)) if said else ""


def name_with_concern(name: str, bite: object) -> str:
    """Return an animal's name as a list shows it, with the concern beside it.

    Args:
        bite: Anything that is true where one of its exams tells of a bite.
    """
    return tr("{name} · bite or scratch", name=name) if bite else name


def animals_with_concern(
    drafts: Iterable[OpenExam], closed: Iterable[ClosedExam]
) -> frozenset[str]:
    """Return the ids of the animals of whose exams one tells of a bite.

    Args:
        drafts: Open exams.
        closed: Rows of closed ones.
    """
    in_open = (row.animal_id for row in drafts if row.bite)
    in_closed = (row.animal_id for row in closed if row.bite)
    return frozenset((*in_open, *in_closed))


def those_with_concern(vault: Vault, animal_ids: Collection[str]) -> frozenset[str]:
    """Return those of some animals of which any exam tells of a bite."""
    closed = (row for one in animal_ids for row in vault.closed.for_animal(one))
    return animals_with_concern(vault.drafts.open(), closed) & frozenset(animal_ids)


def said_of_animal(vault: Vault, animal_id: str, but: str = "") -> list[str]:
    """Return the concerns of an animal's exams, open ones first.

    Args:
        but: ``exam_id`` of an exam that is left out.
    """
    said = [(row.exam_id, row.bite) for row in vault.drafts.of_animal(animal_id)]
    closed = vault.closed.for_animal(animal_id)
    said += [(row.exam_id, row.bite) for row in closed]
    return [bite for exam_id, bite in said if bite and exam_id != but]
