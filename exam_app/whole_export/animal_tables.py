"""The animals known here as a table, and their owners as one of their own."""

import csv
import io
from collections.abc import Iterator, Sequence

from exam_app.export.tables import harmless
from exam_app.store.vault.vault import Vault

ANIMAL_COLUMNS = (
    *("animal_id", "name", "species", "breed", "sex", "birth_date"),
    *("age_number", "age_unit", "age_on", "age_basis", "colour", "chip", "tag"),
    *("place", "behaviour", "dangers", "dam", "is_group", "is_demo"),
)
OWNER_COLUMNS = ("animal_id", "animal", "name", "phone", "address", "other")


def animal_table(vault: Vault) -> Iterator[bytes]:
    """Yield the lines of the table of animals, the names of the columns first.

    RFC 4180 in UTF-8 with a byte order mark. Owners are in no line of it.
    """
    yield "\ufeff".encode() + _line(ANIMAL_COLUMNS)
    for shown in vault.animals.all():
        kept = vault.animals.get(shown.animal_id) or {}
        yield _line([_text(kept.get(name)) for name in ANIMAL_COLUMNS])


def owner_table(vault: Vault) -> Iterator[bytes]:
    """Yield the lines of the table of owners, one for each animal that has one."""
    yield "\ufeff".encode() + _line(OWNER_COLUMNS)
    for shown in vault.animals.all():
        if not shown.has_owner:
            continue
        owner = (vault.animals.get(shown.animal_id) or {}).get("owner") or {}
        other = owner.get("other") or {}
        more = "; ".join(f"{name}: {said}" for name, said in other.items())
        said = [_text(owner.get(name)) for name in ("name", "phone", "address")]
        yield _line([shown.animal_id, shown.name, *said, more])


def _text(value: object) -> str:
    return "" if value is None or value is False else str(value)


def _line(cells: Sequence[str]) -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text).writerow([harmless(cell) for cell in cells])
    return text.getvalue().encode("utf-8", "replace")
