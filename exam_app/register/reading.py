"""Who has which record open, so that two people do not review the same one unaware.

It is shown and binds nobody: an acknowledgement is kept once whoever gives it. A
station says again that it reads; what it does not say again is over by the server's
clock. Names are sealed.
"""

from dataclasses import dataclass

from exam_app.register.register_vault import RegisterVault

SECONDS = 120
_KIND = "reading"
_SAY = """
INSERT INTO register.reading (clinic, exam_id, station, who, until)
VALUES (%s, %s, %s, %s, now() + make_interval(secs => %s))
ON CONFLICT (clinic, exam_id, station)
DO UPDATE SET who = excluded.who, until = excluded.until"""


@dataclass(frozen=True, slots=True)
class Reader:
    """Somebody at another station who has a record open."""

    exam_id: str
    name: str


def begin_reading(vault: RegisterVault, exam_id: str, name: str) -> None:
    """Say, or say again, that a person has a record open at this station."""
    who = vault.sealer.seal("who", _KIND, exam_id, name.encode())
    given = (vault.clinic, exam_id, vault.station, who, SECONDS)
    vault.connection.run(_SAY, given)


def end_reading(vault: RegisterVault, exam_id: str) -> None:
    """Say that it is closed again, and let go of what nobody said again."""
    asked = (
        "DELETE FROM register.reading WHERE clinic = %s "
        "AND (exam_id = %s AND station = %s OR until < now())"
    )
    vault.connection.run(asked, (vault.clinic, exam_id, vault.station))


def others_reading(vault: RegisterVault) -> list[Reader]:
    """Give who reads what at other stations of the clinic now."""
    asked = (
        "SELECT exam_id, who FROM register.reading "
        "WHERE clinic = %s AND station <> %s AND until >= now() ORDER BY exam_id"
    )
    rows = vault.connection.run(asked, (vault.clinic, vault.station))
    return [
        Reader(key, vault.sealer.open("who", _KIND, key, who).decode())
        for key, who in rows
    ]
