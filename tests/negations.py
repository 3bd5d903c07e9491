"""Which claims a term's own words say it denies, read from the words of both.

A claim "no discharge seen" and a find "Discharge" share the word that the one denies
and the other states; "even gait" and "Lame" share none and stand in ``OPPOSITES``.
What is found so is a least: a term may deny more, which only a reader can tell.
"""

import re
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from exam_app.domain.protocol.protocol import Clause, Region, SpeciesProtocol, Term
from exam_app.protocols.loader import load_protocol

FILE = Path(__file__).parent / "negation_exceptions.toml"
WORD = re.compile(r"[a-z]+")
# What a claim denies stands after one of these, up to the end of its phrase.
DENIED = re.compile(r"\b(?:no|not|none|neither|without)\b([^,;:]*)")
# Words that say how or where, or join; they name nothing that is found.
EMPTY = frozenset(
    WORD.findall("""
seen felt heard shown found noted watched looked touched lifted pressed moved or and
of the a an at in on to from with by for as its it is are be been has have any all
both side sides either each other left right too very more than so far this that
there here hand light area part parts skin eye eyes ear ears mouth nose tail leg
legs foot feet head neck back belly chest gum gums lip lips tooth teeth udder teat
wing wings comb beak crop vent breath breathing when while before after during away
can could cannot not no large small little much many few off out up down inside
outside under over above below between along round its their them animal clear look
looks feel one two between sound sounds hard none missing thick
""")
)
# One word for what is one thing.
SAME = {
    "swelling": "swell",
    "swollen": "swell",
    "swellings": "swell",
    "pain": "pain",
    "painful": "pain",
    "hurts": "pain",
    "hurt": "pain",
    "sore": "sore",
    "sores": "sore",
    "flinches": "pain",
    "lump": "lump",
    "lumps": "lump",
    "mass": "lump",
    "masses": "lump",
    "growth": "lump",
    "wound": "wound",
    "wounds": "wound",
    "wounded": "wound",
    "discharge": "discharge",
    "runny": "discharge",
    "runs": "discharge",
    "lame": "lame",
    "limps": "lame",
    "limping": "lame",
    "squint": "squint",
    "squinting": "squint",
    "sunken": "sunken",
    "bulging": "bulge",
    "bulges": "bulge",
    "bulge": "bulge",
    "sneezing": "sneeze",
    "sneezes": "sneeze",
    "cough": "cough",
    "coughs": "cough",
    "coughing": "cough",
    "odour": "smell",
    "smell": "smell",
    "smells": "smell",
    "stumbling": "stumble",
    "stumbles": "stumble",
    "stumble": "stumble",
    "murmur": "murmur",
    "crust": "crust",
    "crusts": "crust",
    "scab": "crust",
    "scabs": "crust",
    "hernia": "hernia",
    "enlarged": "enlarged",
    "red": "red",
    "redness": "red",
    "yellow": "yellow",
    "bleeding": "blood",
    "bleeds": "blood",
    "blood": "blood",
    "bloody": "blood",
    "vomit": "vomit",
    "vomits": "vomit",
    "vomiting": "vomit",
    "parasites": "parasite",
    "parasite": "parasite",
    "mites": "parasite",
    "lice": "parasite",
    "ticks": "parasite",
    "fleas": "parasite",
    "maggots": "maggot",
    "broken": "broken",
    "loose": "loose",
    "overgrown": "overgrown",
    "ulcer": "sore",
    "ulcers": "sore",
    "prolapse": "prolapse",
    "tremor": "tremor",
    "trembles": "tremor",
    "crackles": "crackle",
    "wheezes": "wheeze",
    "blister": "blister",
    "blisters": "blister",
    "hot": "heat",
    "heat": "heat",
    "bruise": "bruise",
    "bruises": "bruise",
    "noise": "noise",
    "noisy": "noise",
    "effort": "effort",
    "distended": "distended",
    "stiff": "stiff",
    "bare": "bare",
    "hairless": "bare",
}
# Finds and claims that exclude each other without sharing a word.
OPPOSITES = tuple(
    (re.compile(find), re.compile(claim))
    for find, claim in (
        (r"^lame$|^limps$", r"even gait|walks? evenly|gait even|moves? evenly"),
        (r"^dull\b|hardly responds|stupor|coma", r"\balert\b|awake, aware|bright"),
        (r"^collapsed", r"\balert\b|awake, aware|stands|moving"),
        (
            r"laboured breath|works hard to breathe|^effort seen|gasps",
            r"no effort|breath\w* easy|easy and quiet|without effort",
        ),
        (r"open.mouth breath|breathes? through", r"mouth closed|easy and quiet"),
        (r"murmur", r"no murmur"),
        (r"^irregular", r"(?<!ir)regular\b"),
        (r"^muffled$", r"heart (sounds )?(heard )?clear"),
        (r"cornea cloudy|cloudy", r"cornea clear|surface clear|clear in this light"),
        (r"pupils? (unequal|uneven)", r"pupils? even"),
        (r"^third eyelid raised|inner lid showing", r"third eyelid not raised"),
        (r"^face uneven", r"face (looks )?even|face even"),
        (
            r"^nostril narrow|narrow nostril",
            r"nostrils even and open|both nostrils open",
        ),
        (r"^enlarged$", r"not enlarged|none enlarged"),
        (r"ataxi|unsteady|wobbly", r"no stumbling|does not stumble|even gait|evenly"),
        (r"^skin tent slow|skin stays up", r"skin (fold )?(goes|falls|returns) back"),
        (r"^gums tacky|gums sticky", r"gums .*moist"),
        (
            r"^loose (or watery )?(dung|stool)|^runny dung",
            r"(dung|stool|droppings) formed",
        ),
    )
)


@cache
def _file() -> dict[str, dict[str, list[str]]]:
    return tomllib.loads(FILE.read_text("utf-8"))


def exceptions() -> dict[str, str]:
    """Return what is no denial although the words say so: pair and reason."""
    return dict(_file()["exceptions"])  # type: ignore[arg-type]


def stems(words: str) -> frozenset[str]:
    """Return what a phrase names, one word for one thing."""
    found = (word for word in WORD.findall(words.casefold()) if word not in EMPTY)
    return frozenset(SAME.get(word, word) for word in found)


def denied_stems(clause: Clause) -> frozenset[str]:
    """Return what a claim says there is not."""
    phrases = (
        found[1]
        for text in (clause.text, clause.plain)
        for found in DENIED.finditer(text.casefold())
    )
    return frozenset(stem for phrase in phrases for stem in stems(phrase))


def must_deny(term: Term, clause: Clause) -> bool:
    """Say whether the words of a find and of a claim cannot both stand."""
    labels = (term.label.casefold(), term.plain.casefold())
    shared = denied_stems(clause) & stems(f"{term.label} {term.plain}")
    claimed = f"{clause.text} ; {clause.plain}".casefold()
    return bool(shared) or any(
        find.search(label) and claim.search(claimed)
        for find, claim in OPPOSITES
        for label in labels
    )


def pairs(protocol: SpeciesProtocol) -> Iterator[tuple[Region, Term, Clause]]:
    """Yield every find with every claim of its part that its words deny."""
    for region in protocol.regions:
        for term in region.terms:
            for clause in region.clauses:
                if must_deny(term, clause):
                    yield region, term, clause


def failing(species: str) -> dict[str, str]:
    """Return the denials that a species does not name, as ``region/term > clause``."""
    excepted = exceptions()
    found = {}
    for region, term, clause in pairs(load_protocol(species).protocol):
        place = f"{region.region_id}/{term.term_id} > {clause.clause_id}"
        is_excepted = place in excepted or f"{species} {place}" in excepted
        if clause.clause_id not in term.negates and not is_excepted:
            found[place] = f"{term.label!r} beside {clause.text!r}"
    return found
