"""Sealing every row of a clinic again with the newest data key, a few at a time."""

from exam_app.register.columns import ANIMALS, CLOSED
from exam_app.register.connection import RegisterConnection
from exam_app.register.keys import RowSealer
from exam_app.store.engine.documents import decode_document
from exam_app.store.repositories.animals import mark_texts

_AT_ONCE = 200
_DOCUMENTS = """
SELECT kind, id, "row", body, version FROM register.document
WHERE clinic = %s AND substring("row" FOR 2) <> %s ORDER BY kind, id LIMIT %s
FOR UPDATE SKIP LOCKED"""
_PUT = """
UPDATE register.document SET "row" = %s, body = %s, terms = %s::bigint[],
    version = nextval('register.change') WHERE clinic = %s AND kind = %s AND id = %s"""
_RECORDS = """
SELECT id, "row", body, month FROM register.record
WHERE clinic = %s AND substring("row" FOR 2) <> %s ORDER BY id LIMIT %s
FOR UPDATE SKIP LOCKED"""
_PUT_RECORD = """
UPDATE register.record SET "row" = %s, body = %s
WHERE clinic = %s AND id = %s AND month = %s"""
_RECORD_KEY = """
UPDATE register.record_key SET version = nextval('register.change')
WHERE clinic = %s AND id = %s"""


def seal_again(owner: RegisterConnection, sealer: RowSealer, clinic: int) -> int:
    """Seal what older keys sealed; give how many rows that was."""
    epoch, done = sealer.newest.to_bytes(2), 0
    while count := _documents(owner, sealer, clinic, epoch):
        done += count
    while count := _records(owner, sealer, clinic, epoch):
        done += count
    return done


def _documents(
    owner: RegisterConnection, sealer: RowSealer, clinic: int, epoch: bytes
) -> int:
    with owner.transaction():
        rows = owner.run(_DOCUMENTS, (clinic, epoch, _AT_ONCE))
        for kind, key, row, body, _ in rows:
            plain = sealer.open("row", kind, key, row)
            terms = None
            if kind == ANIMALS:
                said = decode_document(plain)
                marks = mark_texts(said.get("animal") or {})
                terms = sealer.terms_of(str(said.get("find", "")), marks)
            given = (
                sealer.seal("row", kind, key, plain),
                _again(sealer, kind, key, body),
                terms,
            )
            owner.run(_PUT, (*given, clinic, kind, key))
    return len(rows)


def _records(
    owner: RegisterConnection, sealer: RowSealer, clinic: int, epoch: bytes
) -> int:
    with owner.transaction():
        rows = owner.run(_RECORDS, (clinic, epoch, _AT_ONCE))
        for key, row, body, month in rows:
            given = (
                _again(sealer, CLOSED, key, row, "row"),
                _again(sealer, CLOSED, key, body),
            )
            owner.run(_PUT_RECORD, (*given, clinic, key, month))
            owner.run(_RECORD_KEY, (clinic, key))
    return len(rows)


def _again(
    sealer: RowSealer, kind: str, key: str, sealed: bytes | None, part: str = "body"
) -> bytes | None:
    if sealed is None:
        return None
    return sealer.seal(part, kind, key, sealer.open(part, kind, key, sealed))
