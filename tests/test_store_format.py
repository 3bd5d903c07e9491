"""FORMAT.md against the code: an independent reader, the worked example, the vectors.

The reader below is written from FORMAT.md and uses nothing of ours.
"""

import hashlib
import re
import shutil
import tomllib
import unicodedata
from pathlib import Path

import pytest
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from exam_app.crypto.derivation import PRODUCTION_BOUNDS
from exam_app.store import state
from exam_app.store.errors import VaultError
from exam_app.store.key_slots import SLOT_LENGTH
from exam_app.store.opening import KEYS_REPAIRED
from exam_app.store.two_slots import LONGEST_STATE, SKIPPED
from exam_app.store.vault import (
    create_vault,
    open_vault,
    open_vault_with_recovery_code,
)
from tests.store_disks import CHEAP, TEST_BOUNDS, fill_folder, folder_bytes

ROOT = Path(__file__).parent.parent
FORMAT = (ROOT / "exam_app" / "store" / "FORMAT.md").read_text(encoding="utf-8")
VECTORS = ROOT / "tests" / "vectors" / "store"
CASES = sorted(path.parent.name for path in VECTORS.glob("*/expect.toml"))
REPORTS = {"skipped": SKIPPED, "keys": KEYS_REPAIRED, "opens": None}


def hkdf(secret, salt, info, length):
    return HKDF(SHA256(), length, salt, info.encode()).derive(secret)


def number(content, at, length):
    return int.from_bytes(content[at : at + length], "big")


def read_head(head, secret, kind):
    """Give vault id and data key, by the tables of FORMAT.md."""
    pages = []
    for at in (0, 4096):
        page = head[at : at + 4096]
        fits = hashlib.sha256(page[:4064]).digest() == page[4064:]
        if len(page) == 4096 and page[:16] == b"exam-vault head\n" and fits:
            assert number(page, 16, 2) == 1
            pages.append(page)
    page = max(pages, key=lambda page: number(page, 18, 8))
    vault_id, count = page[26:42], page[42]
    assert count == 2
    slot = page[43:164] if kind == 1 else page[164:285]
    assert slot[0] == kind
    stretched = Argon2id(
        salt=slot[13:29],
        length=32,
        iterations=number(slot, 5, 4),
        lanes=number(slot, 9, 4),
        memory_cost=number(slot, 1, 4),
    ).derive(secret)
    both = hkdf(stretched, vault_id, "exam-vault key slot v1", 64)
    assert both[32:] == slot[89:121]
    associated = b"exam-vault key slot v1" + vault_id + slot[:29]
    data_key = AESGCM(both[:32]).decrypt(slot[29:41], slot[41:89], associated)
    page_key = hkdf(data_key, vault_id, "exam-vault head page v1", 32)
    assert AESGCM(page_key).decrypt(page[285:297], page[297:313], page[:285]) == b""
    assert not any(page[313:4064])
    return vault_id, data_key


def read_state(contents, vault_id, data_key):
    """Give the newest state that authenticates, by the tables of FORMAT.md."""
    key = hkdf(data_key, vault_id, "exam-vault state v1", 32)
    found = {}
    for name, parity in (("vault.a", 1), ("vault.b", 0)):
        file = contents[name]
        fits = file[:18] == b"exam-vault slot\n\0\1" and file[18:34] == vault_id
        sequence = number(file, 34, 8)
        if fits and sequence % 2 == parity and number(file, 42, 8) == len(file) - 62:
            try:
                plain = AESGCM(key).decrypt(file[50:62], file[62:], file[:62])
            except InvalidTag:
                continue
            found[sequence] = plain
    return found[max(found)]


def passphrase_secret(passphrase):
    spaced = re.sub(
        r"[\u0020\u00a0\u1680\u2000-\u200a\u202f\u205f\u3000]", " ", passphrase
    )
    return unicodedata.normalize("NFC", spaced).encode()


def code_secret(code):
    return code.replace("-", "")[:26].encode()


async def test_reader_written_from_the_page_alone_opens_what_we_write(tmp_path):
    vault, code = await create_vault(
        tmp_path, "Hündin läuft", CHEAP, bounds=TEST_BOUNDS
    )
    vault.animals.put({"animal_id": "a1", "name": "Demo Bella ß"})
    vault.settings.put("clinic", "Demo")
    vault.close()
    contents = folder_bytes(tmp_path)
    for kind, secret in (
        (1, passphrase_secret("Hu\u0308ndin\u00a0läuft")),
        (2, code_secret(code)),
    ):
        vault_id, data_key = read_head(contents["vault.head"], secret, kind)
        lines = read_state(contents, vault_id, data_key).decode().split("\n")
        assert lines == [
            "state 1",
            "animals",
            'animals\ta1\t{"animal_id":"a1","name":"Demo Bella ß"}',
            "settings",
            'settings\tclinic\t{"value":"Demo"}',
            "",
        ]


def worked_example():
    blocks = dict(re.findall(r"```(?:hex|text) (\S+)\n(.*?)```", FORMAT, re.DOTALL))
    page = bytes.fromhex(blocks["vault.head"]).ljust(4064, b"\0")
    contents = {
        "vault.head": page + hashlib.sha256(page).digest(),
        "vault.a": bytes.fromhex(blocks["vault.a"]),
        "vault.b": b"",
    }
    code = re.search(r"recovery code\s+`([0-9A-Z-]{34})`", FORMAT)[1]
    return contents, code, blocks["state"].encode()


@pytest.mark.vector
async def test_worked_example_opens_with_passphrase_and_recovery_code(tmp_path):
    contents, code, _ = worked_example()
    fill_folder(tmp_path, contents)
    vault = await open_vault(tmp_path, "nose to tail")
    assert vault.damage_report == KEYS_REPAIRED
    assert vault.settings.get("practice") == "Demo practice"
    assert vault.animals.search("bella")[0]["species"] == "dog"
    vault.close()
    vault = await open_vault_with_recovery_code(tmp_path, code)
    assert vault.damage_report is None
    vault.close()


@pytest.mark.vector
def test_worked_example_reads_as_the_page_says():
    contents, code, expected = worked_example()
    for kind, secret in ((1, b"nose to tail"), (2, code_secret(code))):
        vault_id, data_key = read_head(contents["vault.head"], secret, kind)
        assert read_state(contents, vault_id, data_key) == expected


def test_limits_on_the_page_are_those_of_the_code():
    numbers = {
        what: [
            int(text.replace(" ", "")) for text in re.findall(r"\d[\d ]*\d|\d", ends)
        ]
        for what, ends in re.findall(r"\| (Argon2id \w+) \| ([^|]+) \|", FORMAT)
    }
    low, high = PRODUCTION_BOUNDS.cheapest, PRODUCTION_BOUNDS.dearest
    assert numbers["Argon2id memory"] == [low.memory_kib, high.memory_kib]
    assert numbers["Argon2id passes"] == [low.passes, high.passes]
    assert numbers["Argon2id lanes"] == [low.lanes, high.lanes]
    assert SLOT_LENGTH == 121
    assert LONGEST_STATE == 1024**3
    assert "| depth of a document | 60 |" in FORMAT
    assert state._DEEPEST == 60


@pytest.mark.vector
@pytest.mark.parametrize("case", CASES)
async def test_stored_vault_is_opened_or_refused_as_before(case, tmp_path):
    stored = VECTORS / case
    expect = tomllib.loads((stored / "expect.toml").read_text(encoding="utf-8"))
    for name in ("vault.head", "vault.a", "vault.b"):
        shutil.copyfile(stored / name, tmp_path / name)
    before = folder_bytes(tmp_path)
    if expect["expect"] not in REPORTS:
        with pytest.raises(VaultError) as refused:
            await open_vault(tmp_path, expect["passphrase"])
        assert type(refused.value).__name__ == expect["expect"]
        assert folder_bytes(tmp_path) == before
        return
    vault = await open_vault(tmp_path, expect["passphrase"])
    assert vault.damage_report == REPORTS[expect["expect"]]
    assert vault.animals.get("a1")["name"] == "Demo Bella"
    vault.close()
    code = expect["recovery_code"]
    (await open_vault_with_recovery_code(tmp_path, code)).close()


def test_all_stored_vaults_are_tried():
    assert len(CASES) == 23
    assert "good" in CASES
