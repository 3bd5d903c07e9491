"""The same exams in four stores, each behind the same few calls.

Every store keeps closed exams (signed bytes and the fields that lists show), open
exams (drafts) and animals, and returns from ``autosave`` only when the change is on
the medium. SQLCipher is given a raw key, so that no key derivation is measured.
"""

import asyncio
import base64
import json
import random
import sqlite3
from pathlib import Path

from tinydb import JSONStorage, TinyDB, where

from exam_app.exchange.exchange import Exchange
from exam_app.exchange.outgoing import RECEIVED
from exam_app.store.engine.documents import encode_document
from exam_app.store.repositories.rows import (
    OpenExam,
    open_exam_of_row,
    read_closed_exam,
)
from exam_app.store.vault.folder import create_vault
from exam_app.store.vault.open import open_vault
from tests.store_disks import CHEAP, TEST_BOUNDS

try:
    from sqlcipher3 import dbapi2 as sqlcipher
except ImportError:
    sqlcipher = None

RAW_KEY = "x'" + "2b" * 32 + "'"
# The app has an event loop and its threads already when it opens a store.
RUNNER = asyncio.Runner()
OPEN_COUNT = 25
# Closed exams for which the clinic has not signed: about two days' work.
WAITING = 40
NAMES = ("bella", "otto", "moss", "wick", "tansy", "vetch", "corrin", "fennick")


def draft_of(number, turn):
    """An exam of about five kilobytes, half done."""
    rng = random.Random(number * 1000 + turn)
    attribution = {
        "examined_by": f"{number:032x}",
        "entered_by": f"{number:032x}",
        "observed": {"utc_ms": 1795567126402 + rng.randrange(10**6)},
        "entered": {"utc_ms": 1795567126402 + rng.randrange(10**6)},
    }
    regions = {
        f"region{place}": {
            "conclusion": "asserted",
            "asserted": [f"felt and seen {rng.randrange(10**6)}: no swelling shown"],
            "attribution": attribution,
        }
        for place in range(14)
    }
    return {"exam_id": f"{number:032x}", "turn": turn, "regions": regions}


def row_of(number):
    """What a list shows of an exam."""
    return {
        "animal_id": f"{number // 2:032x}",
        "name": name_of(number // 2),
        "species": "dog",
        "scope": "technician",
        "title": f"Technician exam: {name_of(number // 2)}, dog",
        "started": f"2026-01-01 08:{number % 60:02} +00:00",
        "person_id": f"{number % 7:032x}",
        "hash": f"{number * 7919:064x}",
        "gaps": number % 5,
    }


def signed_of(number):
    """Signed bytes: about as long as those of a whole dog exam, and as random."""
    return random.Random(number).randbytes(1700)


def name_of(number):
    return f"Demo {NAMES[number % len(NAMES)]} {number}"


def animal_of(number):
    return {
        "animal_id": f"{number:032x}",
        "name": name_of(number),
        "species": "dog",
        "breed": "terrier cross",
        "chip": f"9990000{number:08}",
        "owner": {"name": f"Demo owner {number * 31 % 9973}", "phone": "demo 000"},
    }


class Sealed:
    """The app's own store, opened with a key derivation that costs almost nothing."""

    label = "sealed journal"

    def __init__(self, folder):
        self.folder = folder
        self.vault = None

    def fill(self, count):
        vault, _ = asyncio.run(
            create_vault(self.folder, "p", CHEAP, bounds=TEST_BOUNDS)
        )
        with vault.transaction():
            for number in range(count):
                row = {**row_of(number), "exam_id": f"{number:032x}"}
                vault.closed.put(
                    read_closed_exam(encode_document(row)), signed_of(number)
                )
            for number in range(count // 2):
                vault.animals.put(animal_of(number))
            for number in range(OPEN_COUNT):
                shown = open_exam_of_row({"exam_id": f"d{number}", **row_of(number)})
                vault.drafts.put(f"d{number}", draft_of(number, 0), shown)
            hashes = [row_of(number)["hash"] for number in range(count - WAITING)]
            Exchange(vault).outgoing.mark_records(hashes, RECEIVED, "b1")
        vault.rewrite()
        vault.close()

    def open(self):
        self.vault = RUNNER.run(open_vault(self.folder, "p", bounds=TEST_BOUNDS))

    def close(self):
        self.vault.close()

    def autosave(self, number, draft):
        row = row_of(number)
        names = ("animal_id", "name", "species", "scope", "started", "person_id")
        shown = OpenExam(f"d{number}", **{name: row[name] for name in names})
        self.vault.drafts.put(f"d{number}", draft, shown)

    def get(self, number):
        return self.vault.closed.get(f"{number:032x}")

    def open_exams(self):
        return self.vault.drafts.open()

    def latest(self, count):
        return self.vault.closed.latest(count)

    def search(self, text):
        return self.vault.animals.search(text, 20)

    def not_handed_over(self):
        return Exchange(self.vault).not_handed_over()

    def count(self):
        return self.vault.closed.count()

    def every_animal(self):
        return self.vault.animals.all()

    def of_animal(self, number):
        return self.vault.closed.for_animal(f"{number:032x}")

    def compact(self):
        self.vault.rewrite()

    def audit(self):
        return self.vault.audit()


class Sqlite:
    """SQLite without encryption: write-ahead log, every commit on the medium."""

    label = "SQLite, plain"
    module = sqlite3

    def __init__(self, folder):
        folder.mkdir(parents=True, exist_ok=True)
        self.path = str(folder / "exams.db")
        self.database = None

    def fill(self, count):
        self.open()
        run = self.database.execute
        run(
            "create table closed (n integer primary key, id text unique, animal text, "
            "row, signed, waits integer)"
        )
        run("create table drafts (id text primary key, at integer, row, draft)")
        run(
            "create table animals (n integer primary key, id text unique, find, animal)"
        )
        run("create index by_time on drafts (at)")
        run("create index by_animal on closed (animal)")
        run("create index waiting on closed (n) where waits")
        for number in range(count):
            shown = row_of(number)
            waits = int(number >= count - WAITING)
            kept = (json.dumps(shown), signed_of(number), waits)
            run(
                "insert into closed (id, animal, row, signed, waits) "
                "values (?, ?, ?, ?, ?)",
                (f"{number:032x}", shown["animal_id"], *kept),
            )
        for number in range(count // 2):
            animal = animal_of(number)
            find = f"{animal['name']} {animal['chip']} {animal['owner']['name']}"
            values = (animal["animal_id"], find.casefold(), json.dumps(animal))
            run("insert into animals (id, find, animal) values (?, ?, ?)", values)
        for number in range(OPEN_COUNT):
            self._put(number, draft_of(number, 0))
        self.database.commit()
        run("pragma wal_checkpoint(truncate)")
        self.close()

    def open(self):
        self.database = self.module.connect(self.path)
        self._unlock()
        self.database.execute("pragma journal_mode=wal")
        self.database.execute("pragma synchronous=full")

    def close(self):
        self.database.close()

    def autosave(self, number, draft):
        self._put(number, draft)
        self.database.commit()

    def get(self, number):
        query = "select signed from closed where id=?"
        return self.database.execute(query, (f"{number:032x}",)).fetchone()[0]

    def open_exams(self):
        query = "select row from drafts order by at desc"
        return [json.loads(row) for (row,) in self.database.execute(query)]

    def latest(self, count):
        query = "select row from closed order by n desc limit ?"
        return [json.loads(row) for (row,) in self.database.execute(query, (count,))]

    def search(self, text):
        query = "select animal from animals where find like ? order by n limit 20"
        found = self.database.execute(query, (f"%{text}%",))
        return [json.loads(animal) for (animal,) in found]

    def not_handed_over(self):
        query = "select row from closed where waits order by n"
        return [json.loads(row) for (row,) in self.database.execute(query)]

    def count(self):
        return self.database.execute("select count(*) from closed").fetchone()[0]

    def every_animal(self):
        found = self.database.execute("select animal from animals order by n")
        return [json.loads(animal) for (animal,) in found]

    def of_animal(self, number):
        query = "select row from closed where animal=? order by n desc"
        found = self.database.execute(query, (f"{number:032x}",))
        return [json.loads(row) for (row,) in found]

    def _unlock(self):
        pass

    def _put(self, number, draft):
        values = (f"d{number}", draft["turn"], json.dumps(row_of(number)))
        self.database.execute(
            "insert or replace into drafts values (?, ?, ?, ?)",
            (*values, json.dumps(draft)),
        )


class SqlCipher(Sqlite):
    """SQLCipher, with the same settings."""

    label = "SQLCipher"
    module = sqlcipher

    def _unlock(self):
        self.database.execute(f'pragma key = "{RAW_KEY}"')


class PlainTinyDb:
    """TinyDB's own storage in one JSON file, without encryption or flushing."""

    label = "TinyDB JSON, plain"

    def __init__(self, folder):
        folder.mkdir(parents=True, exist_ok=True)
        self.path = Path(folder / "exams.json")
        self.database = None

    def fill(self, count):
        closed = {
            str(number + 1): {
                **row_of(number),
                "id": f"{number:032x}",
                "signed": base64.b64encode(signed_of(number)).decode(),
                "waits": number >= count - WAITING,
            }
            for number in range(count)
        }
        animals = {str(n + 1): animal_of(n) for n in range(count // 2)}
        drafts = {
            str(n + 1): {"id": f"d{n}", **row_of(n), "draft": draft_of(n, 0)}
            for n in range(OPEN_COUNT)
        }
        state = {"closed": closed, "animals": animals, "drafts": drafts}
        self.path.write_text(json.dumps(state))

    def open(self):
        self.database = TinyDB(self.path, storage=JSONStorage)

    def close(self):
        self.database.close()

    def autosave(self, number, draft):
        table = self.database.table("drafts", cache_size=0)
        table.update({"draft": draft}, where("id") == f"d{number}")

    def get(self, number):
        table = self.database.table("closed", cache_size=0)
        return base64.b64decode(table.get(doc_id=number + 1)["signed"])

    def open_exams(self):
        return self.database.table("drafts", cache_size=0).all()

    def latest(self, count):
        return self.database.table("closed", cache_size=0).all()[-count:]

    def search(self, text):
        table = self.database.table("animals", cache_size=0)
        return table.search(where("name").test(lambda name: text in name.casefold()))

    def not_handed_over(self):
        table = self.database.table("closed", cache_size=0)
        return table.search(where("waits").test(bool))

    def count(self):
        return len(self.database.table("closed", cache_size=0))

    def every_animal(self):
        return self.database.table("animals", cache_size=0).all()

    def of_animal(self, number):
        table = self.database.table("closed", cache_size=0)
        return table.search(where("animal_id") == f"{number:032x}")
