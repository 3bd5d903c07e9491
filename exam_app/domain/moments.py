"""A point in time as a record keeps it: UTC milliseconds and the local offset."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone

_START = datetime(1970, 1, 1, tzinfo=UTC)
_TO_THE_MINUTE = len("2026-11-25 09:30")


@dataclass(frozen=True, slots=True, order=True)
class Moment:
    """A time with the offset of the place where it was noted.

    Attributes:
        utc_ms: Milliseconds since 1970-01-01T00:00:00Z.
        offset_min: Minutes that local time was ahead of UTC.
    """

    utc_ms: int
    offset_min: int = 0

    @classmethod
    def from_datetime(cls, when: datetime) -> "Moment":
        """Convert an aware datetime; milliseconds are kept, the rest is cut.

        Raises:
            ValueError: The datetime carries no offset.
        """
        offset = when.utcoffset()
        if offset is None:
            msg = "a moment needs an offset"
            raise ValueError(msg)
        since = when - _START
        return cls(since // timedelta(milliseconds=1), offset // timedelta(minutes=1))

    def local(self) -> datetime:
        """Return the aware datetime at the place where it was noted."""
        zone = timezone(timedelta(minutes=self.offset_min))
        return (_START + timedelta(milliseconds=self.utc_ms)).astimezone(zone)

    def date_and_time(self) -> str:
        """Return local date, time and offset, as in ``2026-11-25 09:30 +02:00``."""
        written = self.local().isoformat(" ", "minutes")
        return f"{written[:_TO_THE_MINUTE]} {written[_TO_THE_MINUTE:]}"

    def clock(self) -> str:
        """Return the local time of day, as in ``09:30``."""
        return f"{self.local():%H:%M}"
