"""Write the vault vectors that do not exist yet; existing ones are never touched.

Each case is a folder: the vault's files as they lie on disk, and ``expect.toml``.
Run from the top folder: ``python -m tests.vectors.store.write_vectors``.
"""

import asyncio
import hashlib
import tempfile
from pathlib import Path

from exam_app.crypto.door import PRODUCTION_BOUNDS
from exam_app.store.engine.replay import find_frames
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.folder import create_vault
from exam_app.store.vault.open import open_vault
from exam_app.store.vault.vault import Vault
from tests.vectors.store.exchange_case import fill

HERE = Path(__file__).parent
PAGE = 4096
COSTS = PRODUCTION_BOUNDS.cheapest
Files = dict[str, bytes]
Case = tuple[Files, str]


def flip(content: bytes, position: int) -> bytes:
    """Flip the lowest bit of one byte; negative positions count from the end."""
    changed = bytearray(content)
    changed[position] ^= 1
    return bytes(changed)


def with_checksum(page: bytes) -> bytes:
    """Give the page a fitting checksum."""
    return page[: PAGE - 32] + hashlib.sha256(page[: PAGE - 32]).digest()


def patched(page: bytes, at: int, content: bytes) -> bytes:
    """Replace bytes of a page and make its checksum fit."""
    return with_checksum(page[:at] + content + page[at + len(content) :])


async def make(folder: Path, passphrase: str) -> tuple[Files, Vault, str]:
    """Create a vault with a few demo documents: written anew, then three saves."""
    vault, code = await create_vault(folder, passphrase, COSTS)
    vault.animals.put({"animal_id": "a1", "name": "Demo Bella", "species": "dog"})
    vault.drafts.put("e1", {"animal_id": "a1", "scope": "technician"})
    vault.rewrite()
    vault.settings.put("clinic", "Demo clinic ß 犬")
    row = ClosedExam(exam_id="e1", animal_id="a1", record_hash="h1")
    vault.close_exam(row, b"\xd2\x84signed")
    vault.notes.put("n1", "e1", b"\xd2\x84note")
    vault.close()
    return read(folder), await open_vault(folder, passphrase), code


def read(folder: Path) -> Files:
    """Read the three files of a vault."""
    names = ("vault.head", "vault.a", "vault.b")
    return {name: (folder / name).read_bytes() for name in names}


def pages_with(head: bytes, at: int, content: bytes) -> bytes:
    """Patch both pages alike."""
    return patched(head[:PAGE], at, content) + patched(head[PAGE:], at, content)


def head_cases(good: Files, other: Files, changed: Files) -> dict[str, Case]:
    """Give the cases of damaged or foreign head pages."""
    head = good["vault.head"]
    first, second = head[:PAGE], head[PAGE:]
    old_slot = first[92:213]
    new_first, new_second = changed["vault.head"][:PAGE], changed["vault.head"][PAGE:]
    mixed = patched(new_first, 92, old_slot) + patched(new_second, 92, old_slot)
    damaged = "VaultDamagedError"
    table = {
        "first_page_flipped": (flip(first, 50) + second, "keys"),
        "second_page_cut": (head[:6000], "keys"),
        "both_pages_flipped": (flip(first, 4095) + flip(second, 4000), damaged),
        "pages_of_two_vaults": (first + other["vault.head"][PAGE:], damaged),
        "head_version_2": (patched(first, 16, b"\0\2") + second, "VaultTooNewError"),
        "memory_cost_out_of_bounds": (pages_with(head, 93, b"\xff" * 4), damaged),
        "passes_too_few": (pages_with(head, 97, b"\0\0\0\1"), damaged),
        "generation_edited": (pages_with(head, 18, b"\0" * 7 + b"\x99"), damaged),
        "other_journal_named": (pages_with(head, 42, b"\0"), damaged),
        "mark_edited": (pages_with(head, 67, b"\0" * 7 + b"\1"), damaged),
        "third_journal_named": (pages_with(head, 42, b"\2"), damaged),
        "slot_of_unknown_kind": (pages_with(head, 92, b"\7"), damaged),
    }
    found = {
        name: ({**good, "vault.head": pages}, expect)
        for name, (pages, expect) in table.items()
    }
    found["old_slot_in_a_new_page"] = ({**changed, "vault.head": mixed}, damaged)
    cut = {**changed, "vault.head": new_first + second}
    found["passphrase_change_cut_off"] = (cut, "WrongPassphraseError")
    return found


def journal_cases(good: Files, other: Files, starts: list[int]) -> dict[str, Case]:
    """Give the cases of damaged journals.

    Args:
        good: Written anew into ``vault.b``, then three saves.
        other: Another vault.
        starts: Where the index and the three saves after it start, and the end.
    """
    journal = good["vault.b"]
    index, one, two, three, end = starts
    parts = [journal[a:b] for a, b in ((one, two), (two, three), (three, end))]
    damaged, altered = "VaultDamagedError", "VaultAlteredError"
    table = {
        "half_a_save_at_the_end": (journal + parts[2][:90], altered),
        "torn_save_at_the_end": (journal + b"torn" * 200, "torn"),
        "zeros_at_the_end": (journal + bytes(512), "torn"),
        "last_save_cut_off": (journal[:-7], "1 missing"),
        "last_body_flipped": (flip(journal, -1), "1 missing"),
        "last_prefix_flipped": (flip(journal, three + 17), "1 missing"),
        "last_two_saves_dropped": (journal[:two], "2 missing"),
        "save_in_the_middle_flipped": (flip(journal, two + 80), altered),
        "length_in_the_middle_flipped": (flip(journal, one + 19), altered),
        "saves_swapped": (journal[:one] + parts[1] + parts[0] + parts[2], altered),
        "save_doubled": (journal[:two] + parts[0] + journal[two:], altered),
        "save_replayed_at_the_end": (journal + parts[0], altered),
        "save_dropped": (journal[:one] + journal[two:], altered),
        "index_flipped": (flip(journal, index + 80), damaged),
        "header_flipped": (flip(journal, 17), damaged),
        "journal_missing": (b"", damaged),
        "journal_of_another_vault": (other["vault.b"], damaged),
    }
    return {
        name: ({**good, "vault.b": content}, expect)
        for name, (content, expect) in table.items()
    }


def write(name: str, files: Files, expect: str, passphrase: str, code: str) -> None:
    """Write one case unless it exists."""
    folder = HERE / name
    if folder.exists():
        return
    folder.mkdir()
    for file, content in files.items():
        (folder / file).write_bytes(content)
    fields = {"expect": expect, "passphrase": passphrase, "recovery_code": code}
    lines = "".join(f'{key} = "{value}"\n' for key, value in fields.items())
    (folder / "expect.toml").write_text(lines, encoding="utf-8")


def frame_starts(vault: Vault, files: Files) -> list[int]:
    """Find where the index and the three saves after it start, and the end."""
    journal = vault._storage.journal()
    found = [at for at, _ in find_frames(journal.file, journal.keys, 0)]
    return [*found[-4:], len(files["vault.b"])]


async def main() -> None:
    """Write all cases that are missing."""
    with tempfile.TemporaryDirectory() as scratch:
        good, vault, code = await make(Path(scratch) / "good", "Hufe & Pfoten")
        other, second_vault, _ = await make(Path(scratch) / "other", "Hufe & Pfoten")
        second_vault.close()
        starts = frame_starts(vault, good)
        await vault.change_passphrase("Hufe & Pfoten", "Neue Worte")
        changed = read(Path(scratch) / "good")
        vault.close()
        write("good", good, "opens", "Hufe & Pfoten", code)
        write("wrong_passphrase", good, "WrongPassphraseError", "hufe & pfoten", code)
        table = head_cases(good, other, changed) | journal_cases(good, other, starts)
        cut = table["passphrase_change_cut_off"][0]
        write("passphrase_change_cut_off_new", cut, "opens", "Neue Worte", code)
        for name, (files, expect) in table.items():
            write(name, files, expect, "Hufe & Pfoten", code)
        exchange, code = await create_vault(Path(scratch) / "e", "Zwei Wege", COSTS)
        fill(exchange)
        exchange.close()
        write("exchange", read(Path(scratch) / "e"), "opens", "Zwei Wege", code)


if __name__ == "__main__":
    asyncio.run(main())
