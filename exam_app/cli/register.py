"""The command ``register``: make one, let stations in, import, look at it.

``init``, ``admit``, ``revoke`` and ``rekey`` need the owner of the database, whose
address is given with ``--register``; every other one a station's role. A password
belongs into ``~/.pgpass`` and not into the address, which others can read.
"""

import argparse
import json
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import ClassVar

from exam_app.app.exam_sessions import now
from exam_app.cli.register_serving import Serving
from exam_app.cli.store import ask, opened
from exam_app.crypto.door import DerivationBounds, agreement_public_key
from exam_app.domain.errors import ExamError
from exam_app.domain.wording.count_words import count_words
from exam_app.domain.wording.visible_text import visible
from exam_app.register.connection import RegisterConnection
from exam_app.register.keys import station_id
from exam_app.register.making import (
    Admission,
    admit_station,
    change_data_key,
    make_register,
    revoke_station,
)
from exam_app.register.moving import Moved, move_up
from exam_app.register.processes import work_together
from exam_app.register.queue import SpoolQueue
from exam_app.register.register_vault import RegisterVault, open_register
from exam_app.store.vault.open import open_vault, open_vault_to_read
from exam_app.store.vault.vault import Vault


class NoAddressError(ExamError):
    """No register was named."""

    advice: ClassVar[str] = (
        "No register was named. Nothing was done. Give its address before the "
        "command: exam-app --register 'host=… dbname=… user=…' register …"
    )


class BadKeyTextError(ExamError):
    """A station's key is no text of 64 hexadecimal digits."""

    advice: ClassVar[str] = (
        "That is no station's key. Nothing was done. "
        "Copy the line that exam-app register key prints on the other station."
    )


async def run_register(
    options: argparse.Namespace, folder: Path, bounds: DerivationBounds
) -> str:
    """Do what the command line asks for.

    Returns:
        What to print at the end.

    Raises:
        ExamError: Refused; its advice says what was done.
    """
    name = options.register_command
    if name == "key":
        passphrase = ask("Passphrase: ")
        with closing(
            await open_vault_to_read(folder, passphrase, bounds=bounds)
        ) as own:
            return agreement_public_key(_private(own)).hex()
    if options.register is None:
        raise NoAddressError("no address")
    if name in _BY_OWNER:
        own = await open_vault(folder, ask("Passphrase: "), bounds=bounds)
        with closing(own), closing(RegisterConnection(options.register)) as owner:
            return _BY_OWNER[name](options, owner, own)
    if name == "import":
        own = await open_vault(folder, ask("Passphrase: "), bounds=bounds)
        with closing(own):
            return _move(options, own)
    if name == "work":
        own = await open_vault(folder, ask("Passphrase: "), bounds=bounds)
        with closing(own):
            private = _private(own)
        work_together(
            options.register, private, max(1, options.workers), is_once=options.once
        )
        return "Nothing waits any more." if options.once else "Ended."
    async with opened(folder, bounds, register=options.register) as vault:
        assert isinstance(vault, RegisterVault)  # noqa: S101  an address was given
        if name == "serve":
            return Serving(vault, options.folder).serve(is_once=options.once)
        return _status(options, vault)


def _private(own: Vault) -> bytes:
    return bytes(own.settings.get("agreement_key"))


def _init(options: argparse.Namespace, owner: RegisterConnection, own: Vault) -> str:
    key = agreement_public_key(_private(own))
    first = Admission(key, options.role, options.clinic_code)
    done = make_register(owner, first, is_demo=options.invented)
    said = f"Migrations run: {', '.join(done)}." if done else "It was up to date."
    return f"{said} This station is {station_id(key)}."


def _admit(options: argparse.Namespace, owner: RegisterConnection, own: Vault) -> str:
    new = Admission(_public(options.key), options.role, options.clinic_code)
    return f"Admitted station {admit_station(owner, _private(own), new)}."


def _revoke(options: argparse.Namespace, owner: RegisterConnection, own: Vault) -> str:
    del own
    revoke_station(owner, station_id(_public(options.key)))
    return "It sees nothing more. What it read it may have kept: now run rekey."


def _rekey(options: argparse.Namespace, owner: RegisterConnection, own: Vault) -> str:
    del options
    count = change_data_key(owner, _private(own))
    return f"{count_words(count, 'row')} sealed again. Open every station anew."


_BY_OWNER: dict[str, Callable[[argparse.Namespace, RegisterConnection, Vault], str]] = {
    "init": _init,
    "admit": _admit,
    "revoke": _revoke,
    "rekey": _rekey,
}


def _public(text: str) -> bytes:
    try:
        key = bytes.fromhex(text)
    except ValueError:
        key = b""
    if len(key) != 32:
        raise BadKeyTextError("no key")
    return key


def _move(options: argparse.Namespace, own: Vault) -> str:
    with closing(open_register(options.register, _private(own))) as vault:
        # An empty register says of the first folder what it is for.
        own.is_demo = vault.is_demo
        return moved_words(move_up(own, vault))


def moved_words(moved: Moved) -> str:
    """Say what was taken over."""
    records = moved.copied.get("closed", 0)
    lines = [
        f"{count_words(records, 'record')} and "
        f"{count_words(sum(moved.copied.values()) - records, 'other row')} taken over, "
        f"{count_words(moved.photographs, 'photograph')}; {moved.there} were there.",
    ]
    if moved.kept:
        lines.append(
            f"{count_words(moved.kept, 'row')} stand otherwise in the register, and "
            "stay so."
        )
    return "\n".join(lines)


def _status(options: argparse.Namespace, vault: RegisterVault) -> str:
    queue = SpoolQueue(vault.connection, vault.clinic)
    if options.release is not None:
        queue.release(options.release)
    if options.drop is not None:
        queue.drop(options.drop)
    state, apart = queue.state(), queue.apart()
    counts = {
        "waiting": state.waiting,
        "taken": state.taken,
        "apart": state.apart,
        "records": vault.storage.count("closed"),
        "hand_overs": vault.storage.count("incoming"),
        "bytes": vault.size(),
    }
    if options.json:
        named = [
            {"job": one.number, "came": one.came, "reason": one.reason} for one in apart
        ]
        return json.dumps({**counts, "set_apart": named}, indent=1)
    lines = [
        f"{state.waiting} wait, {state.taken} are being imported, {state.apart} are "
        "set apart.",
        f"{counts['records']} records of {counts['hand_overs']} hand-overs, "
        f"{counts['bytes']} bytes in all, {now().date_and_time()}.",
    ]
    lines += [f"{one.number}, came {one.came}: {visible(one.reason)}" for one in apart]
    return "\n".join(lines)
