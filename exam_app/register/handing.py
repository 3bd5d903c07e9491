"""Handing an animal to another clinic of the network.

The other clinic may then read that animal, its records, their notes and owner details
as they are, and nothing else; it takes them over as its own, with the keys that the
first one vouches for, so that every signature stays verified.
"""

import json
from dataclasses import dataclass

from exam_app.exchange.exchange import Exchange
from exam_app.record.cose import claimed_key_id, key_id_of
from exam_app.register.columns import CLOSED
from exam_app.register.errors import NoStationError
from exam_app.register.register_vault import RegisterVault
from exam_app.store.engine.format import PUT
from exam_app.store.engine.journal import Change

_KIND = "handed"


@dataclass(frozen=True, slots=True)
class HandedAnimal:
    """An animal that another clinic lets this one read.

    Attributes:
        clinic: Number of the clinic that handed it over.
    """

    clinic: int
    animal_id: str


def hand_animal(vault: RegisterVault, animal_id: str, to_code: str) -> None:
    """Let another clinic of the network read an animal and its records.

    Raises:
        NoStationError: No clinic has this code.
    """
    asked = "SELECT clinic FROM register.clinic WHERE code = %s"
    found = vault.connection.run(asked, (to_code,))
    if not found:
        raise NoStationError("no clinic of this code")
    exchange = Exchange(vault)
    records = [
        vault.closed.get(row.exam_id, row.record_hash) or b""
        for row in vault.closed.every_of(animal_id)
    ]
    notes = [
        n
        for row in vault.closed.every_of(animal_id)
        for n in vault.notes.for_exam(row.exam_id)
    ]
    wanted = {claimed_key_id(signed) for signed in (*records, *notes) if signed}
    keys = [key.hex() for key in exchange.signing_keys() if key_id_of(key) in wanted]
    vouched = vault.sealer.seal("keys", _KIND, animal_id, json.dumps(keys).encode())
    asked = (
        'INSERT INTO register.handed (clinic, animal_id, to_clinic, "keys") '
        "VALUES (%s, %s, %s, %s) ON CONFLICT (clinic, animal_id, to_clinic) "
        'DO UPDATE SET "keys" = excluded."keys", when_handed = now()'
    )
    vault.connection.run(asked, (vault.clinic, animal_id, found[0][0], vouched))


def end_handing(vault: RegisterVault, animal_id: str) -> None:
    """Let no other clinic read an animal any more; what was taken over stays there."""
    asked = "DELETE FROM register.handed WHERE clinic = %s AND animal_id = %s"
    vault.connection.run(asked, (vault.clinic, animal_id))


def handed_here(vault: RegisterVault) -> list[HandedAnimal]:
    """Give the animals that others let this clinic read, the first handed first."""
    rows = vault.connection.run("SELECT clinic, animal_id FROM register.handed_here()")
    return [HandedAnimal(*row) for row in rows]


def take_over(vault: RegisterVault, handed: HandedAnimal) -> int:
    """Keep a handed animal with its records as this clinic's own; again is no change.

    Returns:
        How many records are new here.
    """
    theirs = vault.sealer.of_clinic(handed.clinic)
    given = (handed.clinic, handed.animal_id)
    run = vault.connection.run
    records = run("SELECT * FROM register.records_handed(%s, %s)", given)
    others = run("SELECT * FROM register.documents_handed(%s, %s)", given)
    asked = 'SELECT "keys" FROM register.handed_here() WHERE '
    keys = run(f"{asked}clinic = %s AND animal_id = %s", given)
    found = [(CLOSED, *row) for row in records] + [tuple(row) for row in others]
    changes = [
        Change(
            PUT,
            kind,
            key,
            theirs.open("row", kind, key, row),
            theirs.open("body", kind, key, body) if body else b"",
        )
        for kind, key, row, body in found
    ]

    def keep() -> int:
        storage = vault.storage
        new = [c for c in changes if storage.entry(c.table, c.document_id) is None]
        with storage.transaction():
            storage.save(new)
            for (sealed,) in keys:
                said = theirs.open("keys", _KIND, handed.animal_id, sealed)
                for key in json.loads(said):
                    Exchange(vault).keep_vouched_key(bytes.fromhex(key), "")
        return sum(c.table == CLOSED for c in new)

    return vault.attempt(keep)
