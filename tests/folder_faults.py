"""A shared folder in which things go wrong, seeded, and an inbox behind it.

A device writes eight files. What the clinic sees of them changes from look to look:
half of each, zeros, flipped bits, other names, copies, nothing yet. In the end the
right content of each is there, under whatever name.
"""

import hmac
import random
from dataclasses import dataclass, field
from hashlib import sha256

from exam_app.domain.moments import Moment
from sync.transport.folder import Ending, FolderWriter, device_folder
from sync.transport.folder_reading import FolderReader

FILES = 8
_KEY = b"stands for the recipient's key"


def seal(content):
    """Stand in for a sealed bundle: only the recipient can tell it is whole."""
    return hmac.digest(_KEY, content, "sha256") + content


def opens(sealed):
    return hmac.compare_digest(hmac.digest(_KEY, sealed[32:], "sha256"), sealed[:32])


@dataclass
class Outcome:
    written: int = 0
    wrong: int = 0
    missing: int = 0
    duplicate: int = 0
    faults: set = field(default_factory=set)


def torn(rng, name, content):
    return [(name, content[: rng.randrange(len(content))])], [(name, content)]


def zero_filled(rng, name, content):
    return [(name, bytes(len(content)))], [(name, content)]


def zero_tailed(rng, name, content):
    kept = rng.randrange(1, len(content))
    return [(name, content[:kept].ljust(len(content), b"\0"))], [(name, content)]


def flipped(rng, name, content):
    changed = bytearray(content)
    changed[rng.randrange(len(content))] ^= 1 << rng.randrange(8)
    return [(name, bytes(changed))], [(name, content)]


def flipped_beside_its_copy(rng, name, content):
    first, _ = flipped(rng, name, content)
    copy = name.replace(".exam-", " (1).exam-")
    return first, [*first, (copy, content)]


def upper_cased(rng, name, content):
    return [(name.upper(), content)], [(name.upper(), content)]


def short_named(rng, name, content):
    short = f"{name[:6].upper()}~{rng.randrange(1, 9)}.EXA"
    return [(short, content[:40])], [(short, content)]


def conflict_copied(rng, name, content):
    stem, _, ending = name.partition(".")
    copies = [
        f"{stem}.sync-conflict-20261125-0930-ABC.{ending}",
        f"{stem} (conflicted copy 2026-11-25).{ending}",
        f"{name} (2)",
    ]
    both = [(name, content), (rng.choice(copies), content)]
    return both[:1], both


def torn_conflict_copied(rng, name, content):
    copy = name.replace(".exam-", ".sync-conflict-20261125.exam-")
    half = content[: len(content) // 2]
    return [(name, half), (copy, content)], [(name, half), (copy, content)]


def late(rng, name, content):
    return [], [(name, content)]


def under_a_temporary_name(rng, name, content):
    return [(f".sync.{name}.tmp", content[:50])], [(name, content)]


def under_a_false_hash(rng, name, content):
    false = rng.randbytes(32).hex() + Ending.BUNDLE
    return [(false, content)], [(false, content)]


def moved_below(rng, name, content):
    return [(name, content)], [(f"old/{name}", content)]


FAULTS = (
    torn,
    zero_filled,
    zero_tailed,
    flipped,
    flipped_beside_its_copy,
    upper_cased,
    short_named,
    conflict_copied,
    torn_conflict_copied,
    late,
    under_a_temporary_name,
    under_a_false_hash,
    moved_below,
)


class Inbox:
    """Keeps what opens, by content; counts what it should never meet."""

    def __init__(self, *, trust_names):
        self.kept = []
        self.known = set()
        self._trust_names = trust_names

    def take(self, reader, now):
        for found in reader.look(self.known, now).ready:
            stem = found.name.rpartition("/")[2].partition(".")[0]
            if self._trust_names:
                if len(stem) == 64 and stem not in self.known:
                    self.kept.append(found.content)
                    self.known.add(stem)
            elif opens(found.content):
                self.kept.append(found.content)
                self.known.add(found.sha256)
            else:
                reader.set_aside(found.sha256)


def show(folder, files):
    """Let the folder hold exactly these files."""
    for path in sorted(folder.rglob("*"), reverse=True):
        if path.is_file():
            path.unlink()
    for name, content in files:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


def play_trial(folder, seed, now, *, trust_names=False):
    """Write eight files, mangle them, look after every step."""
    rng = random.Random(seed)
    own, shared = folder / "own", folder / "shared"
    shared.mkdir(parents=True)
    writer = FolderWriter(device_folder(own, "0a"))
    contents = [seal(rng.randbytes(rng.randrange(100, 1_500))) for _ in range(FILES)]
    names = [writer.put(content, Ending.BUNDLE) for content in contents]
    outcome = Outcome(written=len(set(names)))
    first, last = [], []
    for name, content in zip(names, contents, strict=True):
        fault = rng.choice(FAULTS)
        outcome.faults.add(fault.__name__)
        before, after = fault(rng, name, content)
        first += before
        last += after
    rng.shuffle(first)
    rng.shuffle(last)
    inbox, reader = Inbox(trust_names=trust_names), FolderReader(folder / "shared")
    steps = [first[:3], first, first + last[:4], last, last]
    for minutes, files in enumerate(steps):
        show(shared, files)
        inbox.take(reader, Moment(now.utc_ms + minutes * 60_000))
    right = {sha256(content).digest() for content in contents}
    kept = [sha256(content).digest() for content in inbox.kept]
    outcome.wrong = sum(digest not in right for digest in kept)
    outcome.missing = len(right - set(kept))
    outcome.duplicate = len(kept) - len(set(kept))
    return outcome
