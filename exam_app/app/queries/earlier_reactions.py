"""How an animal answered to the hands in its other exams, open and closed ones."""

from exam_app.app.queries.history import rows_of_animal
from exam_app.app.queries.kept_records import read_kept
from exam_app.domain.exam.handling import Reaction
from exam_app.record.errors import RecordError
from exam_app.store.repositories.rows import Pairs, reaction_pairs
from exam_app.store.vault.vault import Vault

# Of those whose rows do not hold them, the newest.
_MOST_OPENED = 6

# Read once for each.
_of_record: dict[str, Pairs] = {}


def earlier_reactions(
    vault: Vault, animal_id: str, but: str = ""
) -> tuple[Reaction, ...]:
    """Return the reactions of an animal's exams, each once.

    Those of open exams come first, then those of records, the newest first. All rows of
    records are read, of any age, those of an animal that a person called the same
    included; a record whose row was written before rows held reactions is opened, at
    most ``_MOST_OPENED`` of them.

    Args:
        but: ``exam_id`` of an exam that is left out.
    """
    told = [
        (row.started, row.reactions)
        for row in vault.drafts.of_animal(animal_id)
        if row.exam_id != but
    ]
    opened = 0
    for row in rows_of_animal(vault, animal_id):
        if row.exam_id == but:
            continue
        pairs = row.reactions
        if pairs is None and opened < _MOST_OPENED:
            opened += 1
            pairs = _read(vault, row.exam_id, row.record_hash)
        told.append((row.started, pairs or ()))
    found: dict[tuple[str, str], Reaction] = {}
    for started, pairs in told:
        for key, text in pairs:
            found.setdefault((key, text.casefold()), Reaction(key, text, started[:10]))
    return tuple(found.values())


def _read(vault: Vault, exam_id: str, record_hash: str) -> Pairs:
    if record_hash not in _of_record:
        try:
            kept = read_kept(vault, exam_id, record_hash)
        except RecordError:
            # Opening that record says what is wrong with it.
            return ()
        _of_record[record_hash] = reaction_pairs(kept.exam) if kept else ()
    return _of_record[record_hash]
