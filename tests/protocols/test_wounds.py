"""Which finds of every species are wounds, as its protocol says and by its words.

What a wound is here (skin or lining opened by an injury, by rubbing or by pressure) is
common practice, no source. A find counts by what its words name first; whatever else
tells of one stands here with the reason why it is none.
"""

import json
import re

import pytest

from exam_app.protocols.loader import available, load_content, load_protocol

# Words that name a wound, or from which one could be understood.
TELLS = re.compile(
    r"\b(wound\w*|cut|bite marks|bitten|torn|tear|puncture\w*|peck\w*|graze\w*|burn\w*"
    r"|sunburn\w*|sores?|raw|rubbed|scratched|hurt|split|crack|cracked|ulcer\w*"
    r"|erosions?)\b"
)
# Every find that tells of a wound and is marked as none, by its label.
NO_WOUND = {
    "skin or a lining that is ill, and no injury told": (
        "Back of mouth red, raw",
        "Blister or sore",
        "Blisters or erosions",
        "Blisters or raw coronet",
        "Blisters or raw disc",
        "Blisters or raw skin",
        "Blisters or raw spots",
        "Blisters or raw teat",
        "Cornea cloudy or pitted",
        "Crust or crack",
        "Erosion or ulcer",
        "Fistula or open sore",
        "Gland sore, bleeding",
        "Grease gland caked or sore",
        "Lump",
        "Sheath sore",
        "Sore skin at the pastern",
        "Sores or scabs",
        "Ulcer",
        "Ulcer or erosion",
    ),
    "skin that is wet, or burnt by the sun where it is light": (
        "Dewlap wet or sore",
        "Raw skin",
        "Red or sunburnt",
        "Skin sore where white",
        "Sunburn or photosensitivity",
        "Throat wet or sore",
    ),
    "an illness of the foot or sole, open in one of its kinds only": (
        "Raw sore at the heel",
        "Red or swollen between toes",
        "Sole or heel sore",
        "Sole sore",
        "Sole sore or swollen",
        "Sole sore, bruise or pus",
        "Sore between the claws",
        "Sore between the toes",
        "Sore or pus at the coronet",
    ),
    "horn, claw, beak or hair, and neither skin nor lining": (
        "Beak cracked or broken",
        "Claw overgrown or hurt",
        "Crack",
        "Crack or broken claw",
        "Feathers missing",
        "Fleece loss",
        "Hair loss",
        "Hair loss or sore",
        "Horn damaged",
        "Nail or spur too long",
        "Nail overgrown or hurt",
        "Rubbed",
        "Wool loss",
        "Bare breast",
        "Bare neck",
    ),
    "something that need not be open is named first": (
        "Navel wet, thick or sore",
        "Pad thick, cracked or hurt",
        "Sore corner of the mouth",
        "Teat cracked or scabbed",
        "Throat swollen or wounded",
        "Vulva does not close",
        "Vulva swollen or torn",
    ),
    "what an animal does or is done to": ("Lame", "Pecked by others"),
    "pain, or a gland": ("Prostate large or sore", "Tendon thick, hot or sore"),
    "tears of the eye": ("Tear streak, wet fur",),
}


def finds():
    for species in available():
        for region in load_protocol(species).protocol.regions:
            for term in region.terms:
                yield species, region.region_id, term


def told(term):
    """All the words of a find: its names and its kinds."""
    return "; ".join((term.label, term.plain, *term.qualities)).casefold()


def test_every_find_whose_words_tell_of_a_wound_is_one_or_has_its_reason():
    reasons = {label for labels in NO_WOUND.values() for label in labels}
    telling = [(where, t) for *where, t in finds() if TELLS.search(told(t))]
    unmarked = {term.label for _, term in telling if not term.is_wound}
    assert unmarked - reasons == set()
    assert reasons - unmarked == set(), "named, and not there"
    marked = {term.label for _, term in telling if term.is_wound}
    assert marked & reasons == set()
    print(f"finds that are wounds: {sum(t.is_wound for _, t in telling)}")


def test_no_find_is_a_wound_whose_words_tell_of_none():
    silent = [
        (species, region, term.label)
        for species, region, term in finds()
        if term.is_wound and not TELLS.search(told(term))
    ]
    assert silent == []


def test_a_wound_of_one_part_is_named_by_part_and_find():
    dog = load_protocol("dog").protocol
    assert ("forelimb", "pad") in dog.wound_terms()
    assert ("skin_coat", "wound") in dog.wound_terms()
    assert ("skin_coat", "abscess") not in dog.wound_terms()


@pytest.mark.parametrize("written", [1, 2])
def test_a_content_of_before_wounds_were_marked_marks_none(written):
    whole = json.loads(load_protocol("dog").content)
    whole["format"] = written
    for region in whole["regions"]:
        for term in region["terms"]:
            term.pop("is_wound", None)
    content = json.dumps(whole).encode()
    old = load_content(content)
    assert old.protocol.wound_terms() == frozenset()
    assert old.content == content
