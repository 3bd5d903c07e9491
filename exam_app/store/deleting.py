"""Delete exams from this device once the clinic has signed that it holds them.

Records, revisions, notes, owner details and private notes go in one save; then the
files are written anew, so that nothing of them stays in the journal. What the clinic
said of each bundle is kept. Copies and backups made before still hold them.
"""

from collections.abc import Sequence

from exam_app.store.errors import ExamStillNeededError
from exam_app.store.opened_vault import Vault


def delete_exams(vault: Vault, exam_ids: Sequence[str]) -> None:
    """Delete all of these exams, or none.

    Raises:
        ExamStillNeededError: The clinic has not signed for one; nothing was deleted.
        VaultError: The disk failed; all are deleted or none, and deleting again
            finishes the work.
    """
    for exam_id in exam_ids:
        if not vault.exchange.may_delete(exam_id):
            raise ExamStillNeededError(exam_id)
    with vault.transaction():
        for exam_id in exam_ids:
            vault.closed.remove(exam_id)
            vault.notes.remove(exam_id)
            vault.owners.drop(exam_id)
            vault.privates.drop(exam_id)
    vault.rewrite()
