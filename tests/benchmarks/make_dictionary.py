"""Choose the words of a new dictionary from records like those of the demonstration.

usage: python -m tests.benchmarks.make_dictionary NUMBER > sync/dictionary_NUMBER.py

A dictionary that was shipped is never made again: a better one gets the next number.
The choice is by cover: windows whose short substrings are common in the samples, each
substring counted once, the most common window last, where deflate reaches it cheapest.
"""

import sys
from base64 import b85encode
from collections import Counter

from exam_app.crypto import door
from exam_app.domain.exam.people import Person, Role
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Scope
from exam_app.protocols.loader import load_protocol
from exam_app.record.notes import Note, NoteKind
from exam_app.record.plain_form import to_plain
from exam_app.record.records import sign_note
from sync.bundle.bundle import BundleKind, Manifest, sign_manifest
from sync.bundle.contents import Contents, write_contents
from sync.bundle.packing import NEWEST_PACKING, Part, columns_of, join_parts
from tests.sync_samples import closed_exam, day_contents

SIZE = 12_288
SHORTEST = 6
WINDOW = 128
SEED = bytes(range(32))
# Streams far from those that the sizes are measured on.
FIRST_STREAM = 10_000
FARM = ("horse", "donkey", "cattle", "sheep", "goat", "pig", "camelid")
SAMPLES = (
    ("dog", Scope.TECHNICIAN, 36),
    ("cat", Scope.TECHNICIAN, 16),
    ("dog", Scope.VETERINARIAN, 6),
    ("cat", Scope.VETERINARIAN, 3),
    *((species, Scope.TECHNICIAN, 3) for species in FARM),
)


def note(number):
    author = Person(f"{number:032x}", "Dr Pia Demo", Role.VETERINARIAN, "PD")
    kinds = list(NoteKind)
    return Note(
        f"{number * 7:032x}",
        kinds[number % len(kinds)],
        f"{number * 11:032x}",
        door.sha256(bytes([number])).hex(),
        author,
        Moment(1_764_061_200_000 + number, 120),
        ("read, thank you", "please look again", "")[number % 3],
        is_demo=True,
    )


def manifest(number):
    return Manifest(
        BundleKind.EXAMS,
        f"{number:032x}",
        number + 1,
        Moment(1_764_061_200_000 + number, 120),
        door.sha256(bytes([number])),
        door.sha256(bytes([number, 1])).hex(),
        0,
        0,
        is_demo=True,
    )


def samples():
    """Give each signed object of a demonstration's hand-overs on its own."""
    for place, (species, scope, count) in enumerate(SAMPLES):
        first = FIRST_STREAM * (place + 1)
        loaded = load_protocol(species)
        for number in range(count):
            one = day_contents(loaded, SEED, 1, first + number, day=number, scope=scope)
            yield structure_of(write_contents(one))
        animal = closed_exam(loaded, first, scope=scope).animal
        yield structure_of(write_contents(Contents(animals=(to_plain(animal),))))
    for number in range(12):
        signed = sign_note(note(number), bytes([number]) * 32)
        yield structure_of(join_parts([(Part.NOTE, signed)]))
        signed = sign_manifest(manifest(number), bytes([number + 100]) * 32)
        yield structure_of(join_parts([(Part.MANIFEST, signed)]))


def structure_of(content):
    """The only column that a dictionary helps."""
    return bytes(columns_of(content, NEWEST_PACKING)[0])


def substrings(content):
    return {content[i : i + SHORTEST] for i in range(len(content) - SHORTEST + 1)}


def chosen_words(contents, size=SIZE):
    common = Counter()
    for content in contents:
        common.update(substrings(content))
    weight = {word: count for word, count in common.items() if count > 2}
    windows, total = [], 0
    while total < size:
        best, worth = b"", 0
        for content in contents:
            scores = [
                weight.get(content[i : i + SHORTEST], 0)
                for i in range(len(content) - SHORTEST + 1)
            ]
            running = sum(scores[: WINDOW - SHORTEST + 1])
            for start in range(len(scores) - (WINDOW - SHORTEST + 1)):
                if running > worth:
                    best, worth = content[start : start + WINDOW], running
                running += scores[start + WINDOW - SHORTEST + 1] - scores[start]
        if not worth:
            break
        for word in substrings(best):
            weight.pop(word, None)
        windows.append(best)
        total += len(best)
    return b"".join(reversed(windows))[-size:]


def module_text(number, words):
    lines = "\n".join(f'    b"{line}"' for line in wrap_bytes(words))
    return f'''"""Dictionary {number}: what records often hold. It never changes.

Made by ``tests/benchmarks/make_dictionary.py``.
"""

from base64 import b85decode

DICTIONARY_{number} = b85decode(
{lines}
)
'''


def wrap_bytes(words):
    text = b85encode(words).decode()
    return [text[i : i + 80] for i in range(0, len(text), 80)]


if __name__ == "__main__":
    text = module_text(int(sys.argv[1]), chosen_words(list(samples())))
    sys.stdout.write(text)
