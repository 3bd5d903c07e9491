"""A closed record with the records that continue it, oldest first."""

from collections.abc import Sequence

from exam_app.app.queries.kept_records import KeptRecord, read_kept
from exam_app.domain.exam.closing import gaps
from exam_app.domain.exam.continued import answer_name, answered_again, combined
from exam_app.domain.exam.exam import Exam
from exam_app.store.vault.vault import Vault


def chain_of(vault: Vault, exam_id: str) -> tuple[KeptRecord, ...]:
    """Return the first record and its continuations, as far as they are here.

    Args:
        exam_id: Any record of the chain.

    Returns:
        Oldest first; empty when the record is not here.

    Raises:
        RecordError: A signed record does not verify or cannot be read.
    """
    kept = read_kept(vault, exam_id)
    if kept is None:
        return ()
    rows = vault.closed.for_animal(kept.exam.animal.animal_id)
    continues = {row["exam_id"]: str(row.get("continues") or "") for row in rows}
    first = exam_id
    while continues.get(first) in continues:
        first = continues[first]
    ids = _with_later(first, continues)
    records = (read_kept(vault, later) for later in ids)
    found = [record for record in records if record is not None]
    return tuple(sorted(found, key=lambda record: record.exam.started.utc_ms))


def _with_later(first: str, continues: dict[str, str]) -> list[str]:
    ids = [first]
    for known in ids:
        ids += [new for new, old in continues.items() if old == known]
    return ids


def open_continuation(vault: Vault, exam_id: str) -> str:
    """Return the id of the open exam that continues a record; empty if there is none.

    Args:
        exam_id: The first record of a chain.
    """
    for row in vault.drafts.open():
        if row.continues == exam_id and not row.revision:
            return row.exam_id
    return ""


def left_open(chain: Sequence[KeptRecord]) -> tuple[str, ...]:
    """Return what every record of a chain together leaves undone."""
    return gaps(read_together(chain), chain[0].loaded.protocol)


def twice_words(chain: Sequence[KeptRecord]) -> str:
    """Name what two continuations of a record both answered; empty if nothing."""
    view, *later = (record.exam for record in chain)
    protocol, names = chain[0].loaded.protocol, list[str]()
    for exam in later:
        for key in answered_again(view, exam):
            name = answer_name(exam, protocol, key)
            names += [name] if name not in names else []
        view = combined(view, (exam,), protocol)
    if not names:
        return ""
    return (
        f"Answered in two records of this chain: {', '.join(names)}. Both stand: "
        "read them together."
    )


def read_together(chain: Sequence[KeptRecord]) -> Exam:
    """Return the view of a chain of at least one record as one exam."""
    first, *later = (record.exam for record in chain)
    return combined(first, later, chain[0].loaded.protocol)
