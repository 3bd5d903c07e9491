"""Clinics and stations in a register, for tests."""

import contextlib
import itertools
from dataclasses import dataclass, field

from exam_app.crypto import door
from exam_app.register.connection import RegisterConnection
from exam_app.register.making import Admission, admit_station, make_register
from exam_app.register.register_vault import open_register

_numbers = itertools.count()


@dataclass(slots=True)
class Register:
    """A database of a server with a register in it.

    Attributes:
        first: Private key of a station that only admits others.
        stations: Private key by role.
    """

    server: object
    database: str
    first: bytes
    stations: dict = field(default_factory=dict)

    def url(self, role="owner"):
        return self.server.url(role, self.database)

    @contextlib.contextmanager
    def owner(self):
        with contextlib.closing(RegisterConnection(self.url())) as connection:
            yield connection

    def run(self, *statements):
        return self.server.run(*statements, database=self.database)

    def new_role(self):
        role = f"station_{next(_numbers)}_{self.database}"
        self.run(f"CREATE ROLE {role} LOGIN")
        return role

    def admit(self, clinic, private=None):
        """Admit a station of a clinic and give its role."""
        role, private = self.new_role(), private or door.new_agreement_key()
        new = Admission(door.agreement_public_key(private), role, clinic)
        with self.owner() as owner:
            admit_station(owner, self.first, new)
        self.stations[role] = private
        return role

    def open(self, role):
        return open_register(self.url(role), self.stations[role])

    def new_clinic(self):
        """Give the code of a clinic that nobody used."""
        return f"clinic{next(_numbers)}"


def make(server, *, is_demo=True, database=""):
    """Give a register in a new database, or in one that is there."""
    name = database or server.new_database()
    register = Register(server, name, door.new_agreement_key())
    role = register.new_role()
    first = Admission(door.agreement_public_key(register.first), role, "first")
    with register.owner() as owner:
        make_register(owner, first, is_demo=is_demo)
    register.stations[role] = register.first
    return register
