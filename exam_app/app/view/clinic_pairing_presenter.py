"""Pairing as the clinic's screen tells it: the countdown, the words, the devices."""

from collections.abc import Sequence

from exam_app.app.queries.clinic_records import DeviceNow
from exam_app.domain.moments import Moment
from exam_app.domain.wording.visible_text import visible
from exam_app.exchange.pairings import Device, Trust

HOW = (
    "1. On the device, open “Pair with a clinic” and let it read this card: as a code, "
    "as pasted text, or as a file.\n"
    "2. Bring the device's answer here: by camera, as pasted text, or as a file.\n"
    "3. Both screens show six words. Compare them aloud, all six."
)
COMPARE = (
    "Read the six words aloud. The device must show the same words in the same order. "
    "If one differs, somebody may have put another card in between: say no."
)
AGAIN = (
    "The words prove that this is the same device or its successor; they do not prove "
    "in whose hands it is. Trust it again only if you know why it was revoked and that "
    "this is over. What it signed meanwhile is taken as well, if it still comes. What "
    "was set aside stays set aside, and that it was revoked stays written down."
)
FINDING = "Finding the six words. This takes a few seconds, on purpose."
KNOWN = "This device is known here; it would be paired anew."
NAMESAKE = (
    "Another device here has the same name. Give this one another name and start "
    "again, so that what they send can be told apart."
)
EXPIRED = "The ten minutes are over. This card is no longer accepted; show a new one."
REVOKE_NOTE = (
    "What this device sends after that number is kept apart, not thrown away, and "
    "waits for somebody to admit or drop it."
)


def countdown(expires_ms: int, now_ms: int) -> str:
    """Say how long a card is still accepted, as ``9:41``; empty when it is over."""
    left = (expires_ms - now_ms) // 1000
    if left <= 0:
        return ""
    return f"{left // 60}:{left % 60:02d}"


def countdown_words(expires_ms: int, now_ms: int) -> str:
    """Say the countdown in a sentence."""
    left = countdown(expires_ms, now_ms)
    return f"Accepted for {left} more minutes, once." if left else EXPIRED


def numbered(words: Sequence[str]) -> tuple[str, ...]:
    """Number the words, since their order counts."""
    return tuple(f"{place}. {word}" for place, word in enumerate(words, 1))


def device_line(now: DeviceNow) -> str:
    """Say where a paired device stands: what came last, what is missing, revoked."""
    last, revoked = now.last_sequence, now.device.revoked_after
    parts = (
        f"last bundle {last}" if last else "nothing received yet",
        missing_words(now.missing),
        f"revoked after bundle {revoked}" if revoked is not None else "",
    )
    return " · ".join(part for part in parts if part)


def device_details(device: Device) -> tuple[str, ...]:
    """Return the quieter lines about a device: paired when and by whom, its key."""
    when, by = device.paired_ms, device.paired_by
    paired = f"paired {Moment(when).date_and_time()}" if when else ""
    lines = (
        f"{paired} by {by}" if paired and by else paired,
        f"trust ended by {device.revoked_by}" if device.revoked_by else "",
        f"key {device.signing_key.hex()[:16]}…",
    )
    return (*(line for line in lines if line), *past_lines(device))


def revoked_words(trust: Trust) -> str:
    """Say that the trust in a device was ended: when, by whom, after what."""
    when = trust.revoked_ms
    at = f" on {Moment(when).date_and_time()}" if when else ""
    by = f" by {visible(trust.revoked_by)}" if trust.revoked_by else ""
    after = trust.revoked_after
    last = (
        f"bundle {after} was its last good one" if after else "no bundle of it counts"
    )
    return f"“{visible(trust.name or 'Device')}” was trusted no more{at}{by}; {last}."


def past_lines(device: Device) -> tuple[str, ...]:
    """Say what a device was here before it was paired again, oldest first."""
    lines = []
    for past in device.before or ():
        until = Moment(past.until_ms).date_and_time()
        ended = f"{revoked_words(past)} " if past.revoked_ms is not None else ""
        by, key = visible(past.until_by or "somebody"), past.signing_key.hex()[:16]
        lines.append(f"{ended}Paired again {until} by {by}; key before: {key}…")
    return tuple(lines)


def missing_words(missing: Sequence[int]) -> str:
    """Name the bundles that were sent and did not arrive: ``bundle 17 is missing``."""
    if not missing:
        return ""
    if len(missing) == 1:
        return f"bundle {missing[0]} is missing"
    return f"bundles {_ranges(missing)} are missing"


def _ranges(numbers: Sequence[int]) -> str:
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    shown = [f"{a}" if a == b else f"{a} to {b}" for a, b in runs]
    return ", ".join(shown[:-1]) + " and " + shown[-1] if len(shown) > 1 else shown[0]


def revoke_problem(typed: str) -> str:
    """Say what is wrong with a last good bundle's number; empty when it can stand."""
    if not typed.isdecimal():
        return "Write the number of the last bundle that is still trusted; 0 for none."
    return ""
