"""A closed record with the records that continue it, oldest first."""

from typing import TYPE_CHECKING

from exam_app.domain.continued import combined
from exam_app.domain.exam import Exam
from exam_app.ui.kept_records import KeptRecord, read_kept

if TYPE_CHECKING:
    from exam_app.store.vault import Vault


def chain_of(vault: "Vault", exam_id: str) -> tuple[KeptRecord, ...]:
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


def read_together(chain: tuple[KeptRecord, ...]) -> Exam:
    """Return the view of a chain of at least one record as one exam."""
    first, *later = (record.exam for record in chain)
    return combined(first, later, chain[0].loaded.protocol)
