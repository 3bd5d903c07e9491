"""Journals in memory for the fault tests, without a head and without a passphrase."""

from dataclasses import dataclass

from exam_app.store.engine.format import derive_frame_keys
from exam_app.store.engine.journal import Journal, Reserve
from exam_app.store.engine.replay import replay
from exam_app.store.engine.rewrite import carried, write_anew
from exam_app.store.engine.storage import SealedStorage
from exam_app.store.engine.tables import SealedTables
from exam_app.store.vault.audit import audit
from tests.store_disks import MemoryFile

KEY, VAULT_ID, JOURNAL_ID = bytes(range(32)), bytes(16), bytes(range(16))
KEYS = derive_frame_keys(KEY, VAULT_ID, JOURNAL_ID)
BODIES = KEYS.bodies


@dataclass
class Opened:
    """A journal that was read: the file, what was found, and the storage on it."""

    file: MemoryFile
    found: object
    storage: SealedStorage

    @property
    def mark(self):
        return self.storage.journal().mark()

    def table(self, name="drafts"):
        return SealedTables(storage=lambda: self.storage).open_table(
            name, body_fields=("draft",)
        )

    def shown(self, name="drafts"):
        return [(row.doc_id, dict(row)) for row in self.table(name)]

    def audit(self):
        end = self.storage.journal().end
        return audit(self.file, KEYS, end, self.storage.tables())


def begun(tables=None, carry=None, keys=KEYS):
    """A new journal."""
    file = MemoryFile()
    return _opened(file, write_anew(file, keys, tables or {}, carry), keys)


def reread(content, mark):
    """The journal that stands in some bytes, as an opening would find it."""
    file = content if isinstance(content, MemoryFile) else MemoryFile(content)
    return _opened(file, replay(file, KEYS, mark))


def written_anew(opened):
    """The same state in another file, as compaction writes it."""
    return begun(opened.storage.tables(), carried(opened.storage.journal()))


def _opened(file, found, keys=KEYS):
    journal = Journal(file, keys, found, Reserve(MemoryFile()))
    return Opened(file, found, SealedStorage(journal, found.tables))
