"""Write a vault, a record and a bundle with one half of the door, to be opened
with the other.

usage: python .ci/between_halves.py write|read FOLDER
"""

import asyncio
import sys
from pathlib import Path

from exam_app.crypto import door
from exam_app.domain.moments import Moment
from exam_app.record.cose import open_record
from exam_app.record.records import close_and_sign
from exam_app.store.vault.folder import create_vault
from exam_app.store.vault.open import open_vault, open_vault_with_recovery_code
from sync.bundle.bundle import BundleKind, Contents, open_bundle, seal_bundle
from tests.record_tiny import EXAM, SEED, TINY

SEED_PUBLIC = door.signing_public_key(SEED)
PRIVATE = bytes(range(1, 33))
DERIVATION = door.KeyDerivation(memory_kib=19456, passes=2, lanes=1)
PASSPHRASE = "Größe of the 1st barn ½"  # noqa: S105  of a vault that is thrown away


async def write(folder: Path) -> None:
    """Write all three; the folder is made."""
    vault, code = await create_vault(folder / "vault", PASSPHRASE, DERIVATION)
    for number in range(20):
        vault.settings.put(f"note {number}", "ö" * number)
    vault.close()
    (folder / "recovery code").write_text(code, "utf-8")
    record = close_and_sign(EXAM, TINY, SEED, None, bytes(32)).signed
    (folder / "record").write_bytes(record)
    made = seal_bundle(
        BundleKind.EXAMS,
        Contents(records=(record,)),
        sequence=1,
        made=Moment(0, 0),
        sender_id="d1" * 16,
        seed=SEED,
        recipient_key=door.agreement_public_key(PRIVATE),
        is_demo=True,
        random=door.random_bytes,
    )
    (folder / "bundle").write_bytes(made.sealed)


async def read(folder: Path) -> int:
    """Open all of them and give how many there were."""
    for opened, secret in (
        (open_vault, PASSPHRASE),
        (open_vault_with_recovery_code, (folder / "recovery code").read_text("utf-8")),
    ):
        vault = await opened(folder / "vault", secret)
        for number in range(20):
            if vault.settings.get(f"note {number}") != "ö" * number:
                raise AssertionError(f"note {number} is not what was saved")
        vault.close()
    record = (folder / "record").read_bytes()
    open_record(record, [SEED_PUBLIC])
    sealed = (folder / "bundle").read_bytes()
    bundle = open_bundle(sealed, PRIVATE, lambda _: SEED_PUBLIC)
    if bundle.contents.records != (record,):
        raise AssertionError("the bundle does not hold the record")
    return 4


if __name__ == "__main__":
    action, place = sys.argv[1:]
    asyncio.run({"write": write, "read": read}[action](Path(place)))
