"""Who writes each open exam down, kept on the device until the exam is closed.

It is a convenience of this device and no part of the record: there each entry names
who wrote it.
"""

from exam_app.app.people_shapes import person_of
from exam_app.domain.exam.people import Person
from exam_app.store.vault.vault import Vault

WRITERS = "writers"


def writer_of(vault: Vault, exam_id: str) -> Person | None:
    """Return who writes an exam down, if it is somebody else than the examiner."""
    person_id = dict(vault.settings.get(WRITERS, {})).get(exam_id)
    fields = vault.people.get(person_id) if person_id else None
    return person_of(fields) if fields else None


def keep_writer(vault: Vault, exam_id: str, writer: Person | None) -> None:
    """Keep who writes an exam down; exams that are no longer open are forgotten."""
    still_open = {row.exam_id for row in vault.drafts.open()} - {exam_id}
    kept = dict(vault.settings.get(WRITERS, {}))
    writers = {key: kept[key] for key in kept if key in still_open}
    if writer is not None:
        writers[exam_id] = writer.person_id
    vault.settings.put(WRITERS, writers)
