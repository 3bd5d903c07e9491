"""Write the vault vectors that do not exist yet; existing ones are never touched.

Each case is a folder: the vault's files as they lie on disk, and ``expect.toml``.
Run from the top folder: ``python -m tests.vectors.store.write_vectors``.
"""

import asyncio
import hashlib
import tempfile
from pathlib import Path

from exam_app.crypto.door import PRODUCTION_BOUNDS
from exam_app.store.two_slots import TwoSlotBody
from exam_app.store.vault import Vault, create_vault

HERE = Path(__file__).parent
PAGE = 4096
COSTS = PRODUCTION_BOUNDS.cheapest
Files = dict[str, bytes]


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
    """Create a vault with a few demo documents, four saves in all."""
    vault, code = await create_vault(folder, passphrase, COSTS)
    vault.animals.put({"animal_id": "a1", "name": "Demo Bella", "species": "dog"})
    vault.closed.put("e1", b"\xd2\x84signed", {"animal_id": "a1"})
    vault.settings.put("clinic", "Demo clinic ß 犬")
    return read(folder), vault, code


def read(folder: Path) -> Files:
    """Read the three files of a vault."""
    names = ("vault.head", "vault.a", "vault.b")
    return {name: (folder / name).read_bytes() for name in names}


def cases(
    good: Files, other: Files, changed: Files, key: bytes, vault_id: bytes
) -> dict[str, tuple[Files, str]]:
    """Give every damaged case with what a reader must say."""
    head = good["vault.head"]
    first, second = head[:PAGE], head[PAGE:]
    newest, older = good["vault.b"], good["vault.a"]
    old_slot = first[43:164]
    new_first, new_second = changed["vault.head"][:PAGE], changed["vault.head"][PAGE:]
    mixed = patched(new_first, 43, old_slot) + patched(new_second, 43, old_slot)
    return {
        "second_save_cut_off": (good | {"vault.b": newest[:-7]}, "skipped"),
        "older_state_flipped": (good | {"vault.a": flip(older, 99)}, "skipped"),
        "newest_state_flipped": (good | {"vault.b": flip(newest, -1)}, "skipped"),
        "newest_state_with_a_byte_more": (
            good | {"vault.b": newest + b"\0"},
            "skipped",
        ),
        "both_states_flipped": (
            {**good, "vault.a": flip(older, -1), "vault.b": flip(newest, -1)},
            "VaultDamagedError",
        ),
        "states_swapped": (
            {**good, "vault.a": newest, "vault.b": older},
            "VaultDamagedError",
        ),
        "states_of_another_vault": ({**other, "vault.head": head}, "VaultDamagedError"),
        "state_version_2": (
            good | {"vault.a": b"", "vault.b": newer_state(key, vault_id)},
            "VaultTooNewError",
        ),
        "first_page_flipped": (good | {"vault.head": flip(first, 50) + second}, "keys"),
        "second_page_cut": (good | {"vault.head": head[:6000]}, "keys"),
        "both_pages_flipped": (
            good | {"vault.head": flip(first, 4095) + flip(second, 4000)},
            "VaultDamagedError",
        ),
        "pages_of_two_vaults": (
            good | {"vault.head": first + other["vault.head"][PAGE:]},
            "VaultDamagedError",
        ),
        "head_version_2": (
            good | {"vault.head": patched(first, 16, b"\0\2") + second},
            "VaultTooNewError",
        ),
        "memory_cost_out_of_bounds": (
            good | {"vault.head": patched(first, 44, b"\xff" * 4) * 2},
            "VaultDamagedError",
        ),
        "passes_too_few": (
            good | {"vault.head": patched(first, 48, b"\0\0\0\1") * 2},
            "VaultDamagedError",
        ),
        "generation_edited": (
            good | {"vault.head": first + patched(second, 18, b"\0" * 7 + b"\x09")},
            "VaultDamagedError",
        ),
        "old_slot_in_a_new_page": (
            changed | {"vault.head": mixed},
            "VaultDamagedError",
        ),
        "passphrase_change_cut_off": (
            changed | {"vault.head": new_first + second},
            "WrongPassphraseError",
        ),
        "slot_of_unknown_kind": (
            good | {"vault.head": patched(first, 43, b"\7") + second},
            "VaultDamagedError",
        ),
    }


def newer_state(key: bytes, vault_id: bytes) -> bytes:
    """Seal a state of version 2 as the second save."""
    from tests.store_disks import MemoryFile

    files = (MemoryFile(), MemoryFile())
    body = TwoSlotBody(files, key, vault_id)
    body.save(b"state 1\n")
    body.save(b"state 2\nlaid out otherwise\n")
    return bytes(files[1].content)


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


async def main() -> None:
    """Write all cases that are missing."""
    with tempfile.TemporaryDirectory() as scratch:
        good, vault, code = await make(Path(scratch) / "good", "Hufe & Pfoten")
        other, second_vault, _ = await make(Path(scratch) / "other", "Hufe & Pfoten")
        second_vault.close()
        changed = await change(vault, Path(scratch))
        vault_id = vault._head.newest().vault_id
        table = cases(good, other, changed, vault._data_key, vault_id)
        vault.close()
        write("good", good, "opens", "Hufe & Pfoten", code)
        empty = good | {"vault.a": b"", "vault.b": b""}
        write("states_missing", empty, "VaultDamagedError", "Hufe & Pfoten", code)
        write("wrong_passphrase", good, "WrongPassphraseError", "hufe & pfoten", code)
        cut = table["passphrase_change_cut_off"][0]
        write("passphrase_change_cut_off_new", cut, "opens", "Neue Worte", code)
        for name, (files, expect) in table.items():
            write(name, files, expect, "Hufe & Pfoten", code)


async def change(vault: Vault, scratch: Path) -> Files:
    """Change the passphrase; the state stays."""
    await vault.change_passphrase("Hufe & Pfoten", "Neue Worte")
    return read(scratch / "good")


if __name__ == "__main__":
    asyncio.run(main())
