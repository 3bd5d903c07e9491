"""Pairing as the clinic's screen tells it: the countdown, the words, the devices."""

from collections.abc import Sequence

from exam_app.app.queries.clinic_records import DeviceNow
from exam_app.domain.moments import Moment
from exam_app.domain.wording.visible_text import visible
from exam_app.exchange.pairings import Device, Trust
from exam_app.language.catalogue import to_translate, tr

HOW = to_translate(
    "1. On the device, open “Pair with a clinic” and let it read this card: as a code, "
    "as pasted text, or as a file.\n"
    "2. Bring the device's answer here: by camera, as pasted text, or as a file.\n"
    "3. Both screens show six words. Compare them aloud, all six."
)
COMPARE = to_translate(
    "Read the six words aloud. The device must show the same words in the same order. "
    "If one differs, somebody may have put another card in between: say no."
)
AGAIN = to_translate(
    "The words prove that this is the same device or its successor; they do not prove "
    "in whose hands it is. Trust it again only if you know why it was revoked and that "
    "this is over. What it signed meanwhile is taken as well, if it still comes. What "
    "was set aside stays set aside, and that it was revoked stays written down."
)
FINDING = to_translate("Finding the six words. This takes a few seconds, on purpose.")
KNOWN = to_translate("This device is known here; it would be paired anew.")
NAMESAKE = to_translate(
    "Another device here has the same name. Give this one another name and start "
    "again, so that what they send can be told apart."
)
EXPIRED = to_translate(
    "The ten minutes are over. This card is no longer accepted; show a new one."
)
REVOKE_NOTE = to_translate(
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
    if not left:
        return tr(EXPIRED)
    return tr("Accepted for {left} more minutes, once.", left=left)


def numbered(words: Sequence[str]) -> tuple[str, ...]:
    """Number the words, since their order counts."""
    return tuple(f"{place}. {word}" for place, word in enumerate(words, 1))


def device_line(now: DeviceNow) -> str:
    """Say where a paired device stands: what came last, what is missing, revoked."""
    last, revoked = now.last_sequence, now.device.revoked_after
    parts = (
        tr("last bundle {number}", number=last) if last else tr("nothing received yet"),
        missing_words(now.missing),
        tr("revoked after bundle {number}", number=revoked)
        if revoked is not None
        else "",
    )
    return " · ".join(part for part in parts if part)


def device_details(device: Device) -> tuple[str, ...]:
    """Return the quieter lines about a device: paired when and by whom, its key."""
    when, by = device.paired_ms, device.paired_by
    day, ended = Moment(when).date_and_time() if when else "", device.revoked_by
    paired = tr("paired {when}", when=day) if day else ""
    if day and by:
        paired = tr("paired {when} by {person}", when=day, person=by)
    lines = (
        paired,
        tr("trust ended by {person}", person=ended) if ended else "",
        tr("key {start}…", start=device.signing_key.hex()[:16]),
    )
    return (*(line for line in lines if line), *past_lines(device))


def revoked_words(trust: Trust) -> str:
    """Say that the trust in a device was ended: when, by whom, after what."""
    name = visible(trust.name or tr("Device"))
    when = Moment(trust.revoked_ms).date_and_time() if trust.revoked_ms else ""
    by = visible(trust.revoked_by) if trust.revoked_by else ""
    if when and by:
        said = tr(
            "“{device}” was trusted no more on {when} by {person}",
            device=name,
            when=when,
            person=by,
        )
    elif when:
        said = tr("“{device}” was trusted no more on {when}", device=name, when=when)
    elif by:
        said = tr("“{device}” was trusted no more by {person}", device=name, person=by)
    else:
        said = tr("“{device}” was trusted no more", device=name)
    after = trust.revoked_after
    last = (
        tr("bundle {number} was its last good one", number=after)
        if after
        else tr("no bundle of it counts")
    )
    return f"{said}; {last}."


def past_lines(device: Device) -> tuple[str, ...]:
    """Say what a device was here before it was paired again, oldest first."""
    lines = []
    for past in device.before or ():
        until = Moment(past.until_ms).date_and_time()
        ended = f"{revoked_words(past)} " if past.revoked_ms is not None else ""
        by, key = visible(past.until_by or tr("somebody")), past.signing_key.hex()[:16]
        again = tr(
            "Paired again {when} by {person}; key before: {key}…",
            when=until,
            person=by,
            key=key,
        )
        lines.append(f"{ended}{again}")
    return tuple(lines)


def missing_words(missing: Sequence[int]) -> str:
    """Name the bundles that were sent and did not arrive: ``bundle 17 is missing``."""
    if not missing:
        return ""
    if len(missing) == 1:
        return tr("bundle {number} is missing", number=missing[0])
    return tr("bundles {numbers} are missing", numbers=_ranges(missing))


def _ranges(numbers: Sequence[int]) -> str:
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    *shown, last = (
        f"{a}" if a == b else tr("{first} to {last}", first=a, last=b) for a, b in runs
    )
    if not shown:
        return last
    return tr("{first} and {last}", first=", ".join(shown), last=last)


def revoke_problem(typed: str) -> str:
    """Say what is wrong with a last good bundle's number; empty when it can stand."""
    if not typed.isdecimal():
        return tr(
            "Write the number of the last bundle that is still trusted; 0 for none."
        )
    return ""
