"""The backups made of this store: they keep whatever was in it on their day."""

from collections.abc import Mapping
from typing import Any

from exam_app.store.sealed_table import SealedTables
from exam_app.store.state import Document


class BackupsMade:
    """When and where each backup went, oldest first."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the table of backups."""
        self._table = tables.open_table("backups", body_fields=())

    def keep(self, backup: Mapping[str, Any]) -> None:
        """Keep that a backup was made.

        Args:
            backup: ``when_ms``, ``at`` (local date and time, as shown), ``where`` and
                ``size`` in bytes.
        """
        self._table.put(str(self._table.sealed.next_number("backups")), backup)

    def all(self) -> list[Document]:
        """Give every backup that is not known to be destroyed."""
        rows = [{**row, "key": key} for key, row in self._table.rows()]
        return [row for row in rows if not row.get("destroyed_by")]

    def mark_destroyed(self, key: str, by: str) -> None:
        """Keep that a person says a backup exists no more."""
        kept = self._table.fetch(key)
        if kept is not None:
            self._table.put(key, {**kept, "destroyed_by": by})
