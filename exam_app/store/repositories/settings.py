"""Values and protocols of this device."""

from typing import Any

from exam_app.store.engine.documents import from_text, to_text
from exam_app.store.engine.tables import SealedTables, put_once


class Settings:
    """Values of this device by name: text, numbers, lists, objects, or bytes."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the table of settings."""
        self._table = tables.open_table("settings", body_fields=())

    def get(self, key: str, default: Any = None) -> Any:  # noqa: ANN401
        """Give the value kept under a name, or ``default``."""
        kept = self._table.fetch(key)
        if kept is None:
            return default
        return from_text(kept["bytes"]) if "bytes" in kept else kept["value"]

    def put(self, key: str, value: Any) -> None:  # noqa: ANN401
        """Keep a value under a name."""
        is_bytes = isinstance(value, bytes)
        self._table.put(
            key, {"bytes": to_text(value)} if is_bytes else {"value": value}
        )


class Protocols:
    """Every version of a species protocol ever used, by its content hash."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the table of protocols."""
        self._table = tables.open_table("protocols")

    def put(self, protocol_hash: str, toml: bytes) -> None:
        """Keep a protocol's exact bytes; the same bytes again change nothing."""
        put_once(self._table, protocol_hash, {"toml": to_text(toml)})

    def get(self, protocol_hash: str) -> bytes | None:
        """Give a protocol's exact bytes, or None."""
        kept = self._table.fetch(protocol_hash)
        return None if kept is None else from_text(kept["toml"])
