"""The exchange's tables: as the page says, and as an earlier version stored them."""

import re
import shutil
import tomllib
from pathlib import Path

import pytest

from exam_app.exchange.exchange import Exchange
from exam_app.exchange.identity import AnimalVersion, JoinsAside
from exam_app.store.engine.documents import stored_row
from exam_app.store.vault.open import open_vault
from tests.handover_places import paired_places
from tests.vectors.store import exchange_case as case

ROOT = Path(__file__).resolve().parents[2]
STORED = ROOT / "tests" / "vectors" / "store" / "exchange"
FORMAT = (ROOT / "exam_app" / "store" / "FORMAT.md").read_text("utf-8")


def stored(rows):
    """Give rows as the tables hold them."""
    return [stored_row(row) for row in rows]


@pytest.mark.vector
async def test_a_stored_exchange_reads_as_it_was_kept(tmp_path):
    expect = tomllib.loads((STORED / "expect.toml").read_text("utf-8"))
    for name in ("vault.head", "vault.a", "vault.b"):
        shutil.copyfile(STORED / name, tmp_path / name)
    vault = await open_vault(tmp_path, expect["passphrase"])
    exchange = Exchange(vault)
    assert stored(exchange.pairing.offers()) == [case.OFFER]
    assert stored(exchange.pairing.devices()) == [case.DEVICE]
    assert stored([exchange.pairing.clinic()]) == [case.CLINIC]
    outgoing = exchange.outgoing.get("55" * 32)
    for key, kept in case.OUTGOING.items():
        read = getattr(outgoing, key)
        assert (list(read) if isinstance(kept, list) else read) == kept
    assert (outgoing.state, outgoing.code) == ("waiting", "ABCD-EFGH")
    assert outgoing.sealed == b"sealed"
    assert exchange.outgoing.record_state("66" * 32) == "shown"
    assert exchange.outgoing.next_sequence("c" * 32) == 8
    assert stored([exchange.incoming.get("88" * 32)]) == [case.INCOMING]
    assert exchange.incoming.receipt("88" * 32) == b"receipt"
    assert exchange.incoming.missing("d" * 32) == (1,)
    (apart,) = stored(exchange.quarantine.held())
    assert {key: apart[key] for key in case.APART} == case.APART
    assert exchange.quarantine.content("99" * 32) == b"whole"
    assert stored(exchange.identity.clashes()) == [{**case.CLASH, "state": "open"}]
    assert exchange.identity.joins()[0].reason == "chip"
    version = AnimalVersion({"colour": "black"}, 4)
    assert exchange.identity.version("a1", "clinic") == version
    vault.close()


async def test_the_page_names_every_table_of_an_exchange(tmp_path):
    async with paired_places(tmp_path) as (clinic, _):
        before = set(clinic.vault._storage.tables())
        case.fill(clinic.vault)
        # Tables that came after that case was stored.
        aside = JoinsAside("d:1", "d", 1, 1, 0, 1)
        Exchange(clinic.vault).identity.set_joins_aside(aside, [("a", "b", "c")])
        made = set(clinic.vault._storage.tables()) - before - {"animals"}
    section = FORMAT.split("## Tables of the exchange")[1].split("\n## ")[0]
    named = set(re.findall(r"^\| `([a-z_]+)` \|", section, re.MULTILINE))
    # The tablet paired above is in the table of devices already.
    assert made | {"devices"} == named
