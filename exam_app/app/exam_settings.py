"""What this device keeps of an open exam beside it, and never in the record."""

from typing import Any

from exam_app.store.vault.vault import Vault


def kept_of_exam(vault: Vault, name: str, exam_id: str) -> Any:  # noqa: ANN401
    """Return what is kept of an exam under a name; ``None`` for nothing."""
    return dict(vault.settings.get(name, {})).get(exam_id)


def keep_of_exam(
    vault: Vault,
    name: str,
    exam_id: str,
    said: Any,  # noqa: ANN401
) -> None:
    """Keep something of one exam; exams that are no longer open are forgotten.

    Args:
        name: Of the setting.
        said: What JSON can hold; ``None`` keeps nothing.
    """
    others = {row.exam_id for row in vault.drafts.open()} - {exam_id}
    before = dict(vault.settings.get(name, {}))
    kept = {key: before[key] for key in before if key in others}
    if said is not None:
        kept[exam_id] = said
    vault.settings.put(name, kept)
