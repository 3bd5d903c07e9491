"""What the case ``exchange`` holds: one document in every table of the exchange.

Changed never; what a later version adds gets a case of its own.
"""

from exam_app.domain.moments import Moment
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.incoming import Incoming, SetApart
from exam_app.exchange.merge import Clash
from exam_app.exchange.pairings import Clinic, Device, OpenOffer
from exam_app.store.engine.documents import read_row

KEYS = {"signing_key": "11" * 32, "agreement_key": "22" * 32}
OFFER = {"token": "33" * 16, "card": "44" * 8, "expires_ms": 1_764_061_800_000}
DEVICE = {
    "device_id": "d" * 32,
    "name": "Demo tablet",
    **KEYS,
    "former": [],
    "state": "paired",
    "is_demo": True,
}
CLINIC = {
    "clinic_id": "c" * 32,
    "name": "Demo clinic",
    "phone": "555 0100 (demo)",
    **KEYS,
    "state": "paired",
    "is_demo": True,
}
OUTGOING = {
    "bundle_hash": "55" * 32,
    "recipient_id": "c" * 32,
    "sequence": 7,
    "kind": "exams",
    "made_ms": 1_764_061_200_000,
    "made_offset_min": 120,
    "exam_ids": ["e" * 32],
    "record_hashes": ["66" * 32],
    "signed_hashes": ["66" * 32, "77" * 32],
}
INCOMING = {
    "bundle_hash": "88" * 32,
    "device_id": "d" * 32,
    "sequence": 3,
    "kind": "exams",
    "made_ms": 1_764_061_200_000,
    "received_ms": 1_764_061_260_000,
    "received": "2025-11-25 11:01 +02:00",
    "skew_ms": -60_000,
    "exam_count": 1,
    "admitted_by": "",
    "outcomes": {"66" * 32: "stored"},
}
APART = {
    "key": "99" * 32,
    "kind": "bundle",
    "reason": "its device was revoked before it was made",
    "bundle_hash": "99" * 32,
    "device_id": "d" * 32,
    "sequence": 9,
    "exam_id": "",
    "waits_for": "",
    "received_ms": 1_764_061_260_000,
    "received": "2025-11-25 11:01 +02:00",
}
CLASH = {
    "key": "a1:colour:" + "d" * 32,
    "animal_id": "a1",
    "field": "colour",
    "ours": "black",
    "theirs": "brown",
    "device_id": "d" * 32,
    "when_ms": 5,
}
JOIN = {"first": "a1", "second": "a2", "reason": "chip", "when_ms": 5}


def fill(vault):
    """Keep one document in every table, in one save."""
    exchange = Exchange(vault)
    with vault.transaction():
        vault.animals.put({"animal_id": "a1", "name": "Demo Bella", "species": "dog"})
        exchange.pairing.put_offer(read_row(OpenOffer, OFFER))
        exchange.pairing.put_device(read_row(Device, DEVICE))
        exchange.pairing.put_clinic(read_row(Clinic, CLINIC))
        exchange.outgoing.put(OUTGOING, b"sealed", "ABCD-EFGH")
        exchange.outgoing.mark_records(["66" * 32], "shown", "55" * 32)
        exchange.incoming.put(read_row(Incoming, INCOMING), b"receipt")
        exchange.incoming.give_up("d" * 32, 2, "Dr Demo", 5)
        apart = read_row(SetApart, APART, content=b"whole".hex())
        exchange.quarantine.put(apart, Moment(APART["received_ms"], 120))
        exchange.identity.put_clash(read_row(Clash, CLASH))
        exchange.identity.propose_join(**JOIN)
        exchange.identity.put_version("a1", "clinic", {"colour": "black"}, 4)
        exchange.keep_vouched_key(bytes.fromhex("ab" * 32), "c" * 32)
