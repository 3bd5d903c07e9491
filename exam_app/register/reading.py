"""Who has which record open, so that two people do not review the same one unaware.

It is shown and binds nobody: an acknowledgement is kept once whoever gives it. A
station has one record open at a time; it is over when that opens another one, or by
the server's clock. Names are sealed.
"""

from dataclasses import dataclass

from exam_app.register.connection import RegisterConnection
from exam_app.register.keys import RowSealer

SECONDS = 600
_KIND = "reading"
_SAY = """
INSERT INTO register.reading (clinic, exam_id, station, who, until)
VALUES (%s, %s, %s, %s, now() + make_interval(secs => %s))
ON CONFLICT (clinic, exam_id, station)
DO UPDATE SET who = excluded.who, until = excluded.until"""
_END = """
DELETE FROM register.reading WHERE clinic = %s
AND (station = %s AND exam_id <> %s OR until < now())"""


@dataclass(frozen=True, slots=True)
class OpenRecords:
    """The records that are open at the stations of one clinic."""

    connection: RegisterConnection
    sealer: RowSealer
    clinic: int
    station: str

    def begin(self, exam_id: str, name: str) -> None:
        """Say, or say again, that a person has a record open at this station."""
        self.end(exam_id)
        who = self.sealer.seal("who", _KIND, exam_id, name.encode())
        given = (self.clinic, exam_id, self.station, who, SECONDS)
        self.connection.run(_SAY, given)

    def end(self, but: str = "") -> None:
        """Say that no record but one is open here, and let go of what is over."""
        self.connection.run(_END, (self.clinic, self.station, but))

    def elsewhere(self, exam_id: str) -> tuple[str, ...]:
        """Give who has a record open at other stations now."""
        asked = (
            "SELECT who FROM register.reading WHERE clinic = %s AND exam_id = %s "
            "AND station <> %s AND until >= now() ORDER BY station"
        )
        rows = self.connection.run(asked, (self.clinic, exam_id, self.station))
        return tuple(
            self.sealer.open("who", _KIND, exam_id, who).decode() for (who,) in rows
        )
