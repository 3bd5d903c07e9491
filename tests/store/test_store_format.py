"""FORMAT.md against the code: an independent reader, the worked example, the vectors.

The reader below is written from FORMAT.md; of ours it uses the dictionary alone.
"""

import hashlib
import json
import re
import shutil
import tomllib
import unicodedata
import zlib
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from exam_app.crypto.door import PRODUCTION_BOUNDS
from exam_app.store.engine.documents import _DEEPEST, DICTIONARY, LONGEST_DOCUMENT
from exam_app.store.engine.format import LONGEST_BODIES, LONGEST_HEAD
from exam_app.store.engine.journal import RESERVE_LENGTH
from exam_app.store.engine.keys import SLOT_LENGTH
from exam_app.store.errors import VaultError
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.folder import create_vault
from exam_app.store.vault.open import (
    KEYS_REPAIRED,
    OTHER_COPY,
    TORN,
    open_vault,
    open_vault_with_recovery_code,
    saves_missing,
)
from tests.store_disks import CHEAP, TEST_BOUNDS, fill_folder, folder_bytes

ROOT = Path(__file__).parents[2]
FORMAT = (ROOT / "exam_app" / "store" / "FORMAT.md").read_text(encoding="utf-8")
VECTORS = ROOT / "tests" / "vectors" / "store"
CASES = sorted(path.parent.name for path in VECTORS.glob("*/expect.toml"))
REPORTS = {
    "opens": None,
    "torn": TORN,
    "keys": KEYS_REPAIRED,
    "other copy": OTHER_COPY,
    **{f"{count} missing": saves_missing(count) for count in range(1, 9)},
}


def hkdf(secret, salt, info, length):
    return HKDF(SHA256(), length, salt, info.encode()).derive(secret)


def number(content, at, length):
    return int.from_bytes(content[at : at + length], "big")


def read_head(head, secret, kind):
    """Give the page that counts and the data key, by the tables of FORMAT.md."""
    pages = []
    for at in (0, 4096):
        page = head[at : at + 4096]
        fits = hashlib.sha256(page[:4064]).digest() == page[4064:]
        if len(page) == 4096 and page[:16] == b"exam-vault head\n" and fits:
            assert number(page, 16, 2) == 1
            pages.append(page)
    page = max(pages, key=lambda page: number(page, 18, 8))
    vault_id = page[26:42]
    assert page[91] == 2
    slot = page[92:213] if kind == 1 else page[213:334]
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
    assert AESGCM(page_key).decrypt(page[334:346], page[346:362], page[:334]) == b""
    if any(page[362:390]):
        closed = page[:334] + b"closed"
        assert AESGCM(page_key).decrypt(page[362:374], page[374:390], closed) == b""
    assert not any(page[390:4064])
    return page, data_key


def unpack(packed):
    if packed[0] == 0:
        return packed[1:]
    assert packed[0] == 1
    return zlib.decompressobj(-15, zdict=DICTIONARY).decompress(packed[1:])


def frames_of(journal, page, data_key):
    """Give head, sealed bodies and their offset of every frame from the first."""
    vault_id, journal_id = page[26:42], page[43:59]
    made = hkdf(data_key, vault_id + journal_id, "exam-vault frames v1", 72)
    frame_key, prefix_key, marker = AESGCM(made[:32]), AESGCM(made[32:64]), made[64:]
    assert journal[:50] == b"exam-vault jrnl\n\0\1" + vault_id + journal_id
    assert prefix_key.decrypt(journal[50:62], journal[62:78], journal[:50]) == b""
    at, sequence, previous = 78, 0, bytes(16)
    while at < len(journal):
        prefix = journal[at : at + 72]
        sequence += 1
        assert prefix[:8] == marker
        assert number(prefix, 8, 8) == sequence
        assert prefix[28:44] == previous
        nonce = prefix[44:56]
        assert prefix_key.decrypt(nonce, prefix[56:], prefix[:56]) == b""
        head_end = at + 72 + number(prefix, 16, 4)
        head = frame_key.decrypt(nonce, journal[at + 72 : head_end], prefix)
        previous = journal[head_end - 16 : head_end]
        at = head_end + number(prefix, 20, 8)
        yield head, journal[head_end:at], head_end


def open_body(body_key, vault_id, table, key, sealed):
    bound = vault_id + table + b"\t" + key
    return unpack(AESGCM(body_key).decrypt(sealed[:12], sealed[12:], bound))


def heads_as_text(contents, page, data_key):
    """Write every head as the worked example shows them."""
    journal = contents["vault.b" if page[42] else "vault.a"]
    body_key = hkdf(data_key, page[26:42], "exam-vault bodies v1", 32)
    lines = []
    for head, bodies_of_frame, _ in frames_of(journal, page, data_key):
        rest = bodies_of_frame
        if head[:1] == b"i":
            lines.append("i " + head[1:].decode("ascii", "replace"))
            continue
        for line in unpack(head[1:]).split(b"\n"):
            verb, table, key, length, tag, row = line.split(b"\t", 5)
            body = b""
            if tag:
                body, rest = rest[: int(length)], rest[int(length) :]
                assert body[-16:] == bytes.fromhex(tag.decode())
                body = open_body(body_key, page[26:42], table, key, body)
            shown = b" ".join((b"c", verb, table, key, row, body))
            lines.append(shown.decode())
    return "".join(f"{line.rstrip()}\n" for line in lines)


def state_from_index(contents, page, data_key):
    """Give table, id, row and body of every document, starting at the index."""
    journal = contents["vault.b" if page[42] else "vault.a"]
    body_key = hkdf(data_key, page[26:42], "exam-vault bodies v1", 32)
    found, at = {}, number(page, 59, 8)
    everything = frames_of(journal, page, data_key)
    head, chunks, _ = next(frame for frame in everything if frame[2] > at)
    assert head[:1] == b"i"
    for line in head[1:].split(b"\n"):
        name, _, places = json.loads(line)
        for chunk_number, (count, ids, rows, length, tag) in enumerate(places):
            sealed, chunks = chunks[:length], chunks[length:]
            assert sealed[-16:].hex() == tag
            key = f"{name}:{chunk_number}".encode()
            plain = open_body(body_key, page[26:42], b"#index", key, sealed)
            wheres = plain[ids + rows :]
            assert len(wheres) == 28 * count
            for document_id, row in zip(
                plain[:ids].split(b"\n"),
                plain[ids : ids + rows].split(b"\n"),
                strict=True,
            ):
                where, wheres = wheres[:28], wheres[28:]
                offset, size = number(where, 0, 8), number(where, 8, 4)
                body = b""
                if size:
                    sealed = journal[offset : offset + size]
                    assert sealed[-16:] == where[12:]
                    table = name.encode()
                    body = open_body(body_key, page[26:42], table, document_id, sealed)
                found[name, document_id.decode()] = (row, body)
    return found


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
    closed = ClosedExam(exam_id="c1", animal_id="a1")
    vault.closed.put(closed, b"signed")
    vault.settings.put("clinic", "Demo")
    vault.settings.put("gone", "soon")
    vault.rewrite()
    vault.close()
    contents = folder_bytes(tmp_path)
    for kind, secret in (
        (1, passphrase_secret("Hu\u0308ndin\u00a0läuft")),
        (2, code_secret(code)),
    ):
        page, data_key = read_head(contents["vault.head"], secret, kind)
        assert page[42] == 1
        assert state_from_index(contents, page, data_key) == {
            ("animals", "a1"): (
                '{"find":"demo bella ss demobellass",'
                '"animal":{"animal_id":"a1","name":"Demo Bella ß"}}'.encode(),
                b"",
            ),
            ("closed", "c1"): (
                json.dumps(closed.to_row(), separators=(",", ":")).encode(),
                b'{"signed":"c2lnbmVk"}',
            ),
            ("settings", "clinic"): (b'{"value":"Demo"}', b""),
            ("settings", "gone"): (b'{"value":"soon"}', b""),
        }


def worked_example():
    blocks = dict(re.findall(r"```(?:hex|text) (\S+)\n(.*?)```", FORMAT, re.DOTALL))
    page = bytes.fromhex(blocks["vault.head"]).ljust(4064, b"\0")
    contents = {
        "vault.head": page + hashlib.sha256(page).digest(),
        "vault.a": bytes.fromhex(blocks["vault.a"]),
        "vault.b": b"",
    }
    code = re.search(r"recovery code\s+`([0-9A-Z-]{34})`", FORMAT)[1]
    return contents, code, blocks["state"]


@pytest.mark.vector
async def test_worked_example_opens_with_passphrase_and_recovery_code(tmp_path):
    contents, code, _ = worked_example()
    fill_folder(tmp_path, contents)
    vault = await open_vault(tmp_path, "nose to tail")
    assert vault.damage_report == KEYS_REPAIRED
    assert vault.settings.get("practice") == "Demo practice"
    assert vault.animals.search("bella")[0].species == "dog"
    vault.close()
    vault = await open_vault_with_recovery_code(tmp_path, code)
    assert vault.damage_report is None
    vault.close()


@pytest.mark.vector
def test_worked_example_reads_as_the_page_says():
    contents, code, expected = worked_example()
    for kind, secret in ((1, b"nose to tail"), (2, code_secret(code))):
        page, data_key = read_head(contents["vault.head"], secret, kind)
        assert heads_as_text(contents, page, data_key) == expected


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
    assert "| sealed head | 1 GiB |" in FORMAT
    assert LONGEST_HEAD == 1024**3
    assert "| bodies of a frame | 4 GiB |" in FORMAT
    assert LONGEST_BODIES == 4 * 1024**3
    assert "| document | 64 MiB |" in FORMAT
    assert LONGEST_DOCUMENT == 64 * 1024**2
    assert "| depth of a document | 60 |" in FORMAT
    assert _DEEPEST == 60
    assert f"\n{RESERVE_LENGTH // 1000} {RESERVE_LENGTH % 1000} random bytes" in FORMAT
    assert f"(SHA-256 `{hashlib.sha256(DICTIONARY).hexdigest()}`)" in FORMAT


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
        after = folder_bytes(tmp_path)
        assert after.pop("vault.reserve") == b""
        assert after == before
        return
    vault = await open_vault(tmp_path, expect["passphrase"])
    assert vault.damage_report == REPORTS[expect["expect"]]
    assert vault.animals.get("a1")["name"] == "Demo Bella"
    vault.close()
    code = expect["recovery_code"]
    (await open_vault_with_recovery_code(tmp_path, code)).close()


def test_all_stored_vaults_are_tried():
    assert len(CASES) == 35
    assert "good" in CASES
