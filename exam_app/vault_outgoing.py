"""Sealed bundles as the store keeps them, and this computer's own identity."""

from collections.abc import Mapping
from typing import Any

from exam_app.domain.moments import Moment
from exam_app.store.vault import Vault
from sync.outgoing import HandOverState, Outgoing, OwnIdentity


def own_identity(vault: Vault, *, is_demo: bool) -> OwnIdentity:
    """Return this device's or clinic's ids and secrets."""
    settings = vault.settings
    former = [entry["device_id"] for entry in settings.get("former_keys", [])]
    return OwnIdentity(
        (settings.get("device_id", ""), *reversed(former)),
        settings.get("signing_key"),
        settings.get("agreement_key"),
        is_demo,
    )


def row_of(bundle: Outgoing) -> dict[str, Any]:
    """Return a sealed bundle as the store keeps it."""
    return {
        "bundle_hash": bundle.bundle_hash,
        "recipient_id": bundle.recipient_id,
        "sequence": bundle.sequence,
        "kind": bundle.kind,
        "made_ms": bundle.made.utc_ms,
        "made_offset_min": bundle.made.offset_min,
        "exam_ids": list(bundle.exam_ids),
        "record_hashes": list(bundle.record_hashes),
        "signed_hashes": list(bundle.signed_hashes),
    }


def outgoing_from(kept: Mapping[str, Any], sealed: bytes) -> Outgoing:
    """Return a sealed bundle from what the store kept."""
    return Outgoing(
        kept["bundle_hash"],
        kept["recipient_id"],
        int(kept["sequence"]),
        kept["kind"],
        HandOverState(kept["state"]),
        Moment(kept["made_ms"], kept["made_offset_min"]),
        sealed,
        kept["code"],
        tuple(kept["exam_ids"]),
        tuple(kept["record_hashes"]),
        tuple(kept["signed_hashes"]),
        int(kept["wrong_codes"]),
        kept.get("outcomes"),
    )
