"""What the command ``register`` takes; apart, since running it imports a driver."""

import argparse
from pathlib import Path

from exam_app.cli.store import Commands, add_data_option

REGISTER = "register"
_OWNER = " (owner's address)"


def add_register_command(commands: Commands) -> None:
    """Add the command with its own ones to those of the app."""
    register = commands.add_parser(
        REGISTER, help="several stations on PostgreSQL in place of one folder"
    )
    kinds = register.add_subparsers(dest="register_command", required=True)
    init = _added(kinds, "init", f"make the register, or bring it up to date{_OWNER}")
    init.add_argument("--role", required=True, help="role of this station")
    init.add_argument(
        "--clinic-code", required=True, help="code of the clinic, no name"
    )
    init.add_argument(
        "--invented", action="store_true", help="for invented records only"
    )
    _added(kinds, "key", "print this station's public key, for admit")
    admit = _added(kinds, "admit", f"let another station in{_OWNER}")
    admit.add_argument("key", help="what register key prints there")
    admit.add_argument("--role", required=True, help="role of that station")
    admit.add_argument("--clinic-code", required=True, help="code of its clinic")
    revoke = _added(kinds, "revoke", f"trust a station no more{_OWNER}")
    revoke.add_argument("key", help="its public key")
    _added(kinds, "rekey", f"change the data key and seal every row again{_OWNER}")
    _added(kinds, "import", "take this folder's exams over; can be repeated")
    serving = _added(kinds, "serve", "put hand-overs of a shared folder in")
    serving.add_argument("folder", type=Path, help="shared with the devices")
    working = _added(kinds, "work", "import what waits in the register")
    working.add_argument("--workers", type=int, default=1, help="side by side")
    for command in (serving, working):
        command.add_argument("--once", action="store_true", help="end when none waits")
    status = _added(kinds, "status", "say what waits, is set apart and is kept")
    status.add_argument("--json", action="store_true", help="print JSON")
    status.add_argument("--release", type=int, metavar="JOB", help="try one again")
    status.add_argument("--drop", type=int, metavar="JOB", help="remove one")


def _added(kinds: Commands, name: str, says: str) -> argparse.ArgumentParser:
    command = kinds.add_parser(name, help=says, description=says)
    add_data_option(command)
    return command
