"""Take out of a damaged journal whatever still authenticates, and say what is lost.

Saves are numbered, and the head's mark says up to which number they were kept, so a
missing save is noticed wherever it stood. What a missing save held is not known: then
numbers are given as "at least". A whole index makes the saves before it unneeded.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from exam_app.store.engine.files import SealedFile
from exam_app.store.engine.format import (
    DROP,
    HEADER_LENGTH,
    MOVE,
    NEW,
    PUT,
    REMOVE,
    TABLE,
    FrameKeys,
    Line,
    Mark,
    is_index,
    place_of,
)
from exam_app.store.engine.index import Tables, apply_line
from exam_app.store.engine.replay import (
    Frame,
    find_frames,
    index_in,
    open_frame,
    opens,
)
from exam_app.store.errors import VaultError

Key = tuple[str, str]
_KINDS = {
    "closed": ("signed record", "signed records"),
    "drafts": ("open exam", "open exams"),
    "notes": ("signed note", "signed notes"),
    "animals": ("animal", "animals"),
    "people": ("person", "people"),
    "owner_blocks": ("owner's details", "owners' details"),
    "private_blocks": ("private note", "private notes"),
}
_OTHER = ("other entry", "other entries")
_KEEPS = (NEW, PUT, MOVE)


@dataclass(frozen=True, slots=True)
class Salvaged:
    """What was found.

    Attributes:
        tables: Rows and places of every document that opens.
        taken: How many of which kind, in words.
        lost: Table and id of documents of which no version opens.
        older: Table and id of documents of which only an older version opens.
        unsure: The same of documents that a missing save may have replaced or removed
            afterwards.
        missing_parts: Parts of the file that were kept once, nearly always one save
            each, and cannot be read; what they held is not known.
        is_end_known: Whether the last save found is known to be the last one made.
        is_other_copy: Whether the head belongs to another copy of the journal.
        earlier: Losses that were found before and that nobody has read in the app.
    """

    tables: Tables
    taken: str
    lost: tuple[Key, ...]
    older: tuple[Key, ...]
    unsure: tuple[Key, ...]
    missing_parts: int
    is_end_known: bool
    is_other_copy: bool
    earlier: tuple[str, ...] = ()

    @property
    def is_counted(self) -> bool:
        """Whether ``lost`` and ``older`` are all that is lost."""
        return self.is_end_known and not (self.missing_parts or self.is_other_copy)

    @property
    def is_whole(self) -> bool:
        """Whether nothing is lost, and that is known."""
        return self.is_counted and not (self.lost or self.older)

    @property
    def sentence(self) -> str:
        """What the person is told."""
        before = [f"Found earlier: {report}" for report in self.earlier]
        return " ".join([f"Taken out whole: {self.taken}.", self.losses, *before])

    @property
    def losses(self) -> str:
        """What is lost, as sentences."""
        if self.is_whole:
            return f"Nothing{' more' if self.earlier else ''} is missing."
        said = self._losses()
        if self.missing_parts:
            parts = "part" if self.missing_parts == 1 else "parts"
            said.append(
                f"{self.missing_parts} {parts} of the file that held saves cannot be "
                "read: what was entered there is missing unless a later save holds it "
                "too, and what was removed there may be back."
            )
        if self.is_other_copy:
            said.append(
                "The page with the keys belongs to another copy of this folder."
            )
        elif not self.is_end_known:
            said.append(
                "The exams were not closed before the damage: whether saves after the "
                "last one found are missing cannot be known."
            )
        return " ".join([*said, "Compare with your newest backup."])

    def _losses(self) -> list[str]:
        least = "" if self.is_counted else "at least "
        said = []
        if self.lost:
            said.append(f"Lost: {least}{_kinds(self.lost)}.")
        if self.older:
            said.append(f"Only an older version opened: {least}{_kinds(self.older)}.")
        if self.is_counted:
            said.append("Nothing else is missing.")
        elif self.lost or self.older:
            said.append("How many more are lost cannot be counted.")
        else:
            said.append("Whether and how many entries are lost cannot be counted.")
        return said


@dataclass(slots=True)
class _State:
    """What the saves read so far say.

    ``failed`` holds documents whose newest version does not open, with whether an
    older one does; ``unsure`` those of them that stood before a missing save.
    """

    file: SealedFile
    keys: FrameKeys
    tables: Tables = field(default_factory=dict)
    failed: dict[Key, bool] = field(default_factory=dict)
    unsure: dict[Key, bool] = field(default_factory=dict)
    missing: int = 0

    def take(self, found: Frame | None) -> None:
        """Go on over one part of the file."""
        try:
            lines = None if found is None else list(found.lines())
        except VaultError:
            lines = None
        if lines is None:
            self.missing += 1
            self.unsure.update(self.failed)
            self.failed.clear()
            return
        for line, offset in lines:
            self._apply(line, offset)

    def take_index(self, found: Frame) -> None:
        """Go on over an index; a whole one makes up for all that is missing so far."""
        try:
            index = index_in(self.file, self.keys, found)
        except VaultError:
            return
        damaged = [name for name, rows in index.items() if not rows.keep_readable()]
        for name, rows in index.items():
            apply_line(self.tables, Line(TABLE, name, "", rows.next_number), 0)
            for document_id, (row, where) in rows.entries.items():
                offset, length, tag = place_of(where)
                if not (tag and self._tag(name, document_id) == tag):
                    line = Line(PUT, name, document_id, length, tag, row)
                    self._apply(line, offset)
        if not damaged:
            self._keep_only(index)

    def _apply(self, line: Line, offset: int) -> None:
        key = line.table, line.document_id
        self.unsure.pop(key, None)
        if line.verb not in _KEEPS or opens(self.file, self.keys, line, offset):
            apply_line(self.tables, line, offset)
            self.failed.pop(key, None)
            if line.verb == DROP:
                for known in (self.failed, self.unsure):
                    for gone in [one for one in known if one[0] == line.table]:
                        del known[gone]
        else:
            rows = self.tables.get(line.table)
            self.failed[key] = rows is not None and line.document_id in rows.entries

    def _tag(self, table: str, document_id: str) -> bytes:
        rows = self.tables.get(table)
        entry = rows.entries.get(document_id) if rows else None
        return place_of(entry[1])[2] if entry else b""

    def _keep_only(self, index: Tables) -> None:
        for name in [name for name in self.tables if name not in index]:
            del self.tables[name]
        for name, rows in self.tables.items():
            for key in [key for key in rows.entries if key not in index[name].entries]:
                rows.change(Line(REMOVE, name, key), (b"", b""))
        self.missing = 0
        known = {**self.unsure, **self.failed}
        self.unsure.clear()
        self.failed = {
            (name, key): has_older
            for (name, key), has_older in known.items()
            if name in index and key in index[name].entries
        }


def salvage(
    file: SealedFile, keys: FrameKeys, mark: Mark, *, was_closed: bool
) -> Salvaged:
    """Read every frame that authenticates, wherever it stands.

    ``was_closed`` says that no save was made after the mark of the head page.
    """
    state = _State(file, keys)
    chain, is_other_copy = _chain(_candidates(file, keys), mark)
    index = max((one for one in chain if is_index(chain[one].head)), default=0)
    index = index or _number_of_index(chain, mark)
    newest = max(chain, default=0)
    for sequence in range(1, max(newest, mark.sequence) + 1):
        found = chain.get(sequence)
        if sequence != index:
            state.take(found)
        elif found is not None:
            state.take_index(found)
    kept = ((name, "") for name, rows in state.tables.items() for _ in rows.entries)
    return Salvaged(
        state.tables,
        _kinds(kept),
        tuple(key for key, has_older in state.failed.items() if not has_older),
        tuple(key for key, has_older in state.failed.items() if has_older),
        tuple(state.unsure),
        state.missing,
        was_closed and newest <= mark.sequence,
        is_other_copy,
    )


def _candidates(file: SealedFile, keys: FrameKeys) -> dict[int, list[Frame]]:
    candidates: dict[int, list[Frame]] = {}
    for offset, prefix in find_frames(file, keys, 0):
        found = open_frame(file, keys, offset, prefix)
        if found is not None:
            candidates.setdefault(prefix.sequence, []).append(found)
    return candidates


def _chain(
    candidates: dict[int, list[Frame]], mark: Mark
) -> tuple[dict[int, Frame], bool]:
    """Take of each number the frame that the mark or the next frame names."""
    chain: dict[int, Frame] = {}
    is_other_copy = False
    for sequence in sorted(candidates, reverse=True):
        found, after = candidates[sequence], chain.get(sequence + 1)
        named = after.prefix.previous if after else None
        if sequence == mark.sequence:
            is_known = any(one.tag == mark.tag for one in found)
            is_other_copy = not is_known or named not in (None, mark.tag)
            named = mark.tag if is_known else named
        fitting = [one for one in found if named in (None, one.tag)]
        if fitting:
            chain[sequence] = fitting[0]
    return chain, is_other_copy


def _number_of_index(chain: dict[int, Frame], mark: Mark) -> int:
    """Give the number of an index whose head does not open, if all before it stand."""
    end, sequence = HEADER_LENGTH, 0
    while end < mark.index_offset:
        sequence += 1
        if sequence not in chain or chain[sequence].offset != end:
            return 0
        end = chain[sequence].end
    return sequence + 1 if end == mark.index_offset else 0


def _kinds(keys: Iterable[Key]) -> str:
    """Count documents by what a person calls them: "2 animals and 1 open exam"."""
    counts = Counter(_KINDS.get(table, _OTHER) for table, _ in keys)
    ordered = sorted(
        counts.items(), key=lambda one: [*_KINDS.values(), _OTHER].index(one[0])
    )
    words = [f"{count} {names[count != 1]}" for names, count in ordered]
    return (
        " and ".join([", ".join(words[:-1]), words[-1]] if words[1:] else words)
        or "nothing"
    )
