"""Every label a volunteer or a member of staff sees, and why each hard word is there.

A volunteer meets a trade term only beside plain words in the same label, as in
"knee (stifle)". Staff meet trade terms because the trade's charts and letters use
them; each one that is not plain English has its reason in ``REASONS``.
"""

import re
from collections.abc import Iterator

import pytest

from exam_app.app.exam_start import SCOPE_MEANING, SETTING_LABELS
from exam_app.app.forms import visit_forms
from exam_app.app.forms.bite_form import bites_asked
from exam_app.app.forms.finding_form import CALL_LABELS, SEVERITY_LABELS, SINCE_LABELS
from exam_app.app.view.region_presenter import OUTCOME_LABELS
from exam_app.app.view.review_presenter import STOP_LABELS
from exam_app.app.view.urgent_presenter import HOW, WHEN
from exam_app.app.view.visit_presenter import Part
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.region_states import NOT_EXAMINED_REASONS, NOT_PRESENT_REASONS
from exam_app.domain.exam.vitals import RateState
from exam_app.domain.protocol.protocol import (
    SCOPE_LABELS,
    Region,
    Scope,
    SpeciesProtocol,
    Vital,
)
from exam_app.protocols.loader import available, load_protocol
from tests.small_dog import NINE_O_CLOCK

VOLUNTEER_SCOPES = frozenset({Scope.INTAKE, Scope.GROUP})

# Why staff read these words; common practice, no source. What volunteers read
# instead is the plain label beside it in the protocol.
REASONS = {
    "abdomen": "the belly as letters name it",
    "ataxic": "unsteadiness that begins in the nerves, apart from lameness",
    "caecum": "the blind gut of a horse; its flush is listened to by name",
    "capillary refill": "the time the gum takes to turn pink; named so on every chart",
    "carpus": "the joint of the fore limb that a wrist is; joints are charted by name",
    "conjunctiva": "the pink lining of the lid, apart from the white of the eye",
    "cornea": "the clear surface of the eye",
    "coronet": "the rim where hair ends and horn begins; feet are charted by it",
    "digital pulse": "the pulse at the fetlock that tells of a sore foot",
    "femoral": "the artery on which the pulse is felt",
    "fetlock": "the joint above the pastern; joints are charted by name",
    "fontanelle": "a gap in the skull of some small dogs",
    "gallop": "a third heart sound, as heard",
    "hock": "the joint of the hind limb that an ankle is",
    "jugular": "the neck vein whose filling is looked at",
    "mammary": "the glands of the belly, in males too",
    "mandibular": "which of the nodes that can be felt",
    "mentation": "how awake and aware; the trade grades it by that name",
    "mucous membrane": "gums, inner lids and others whose colour is read",
    "murmur": "a sound between the heart sounds, as heard",
    "popliteal": "which of the nodes that can be felt",
    "rumen": "the first stomach, felt and heard in the left flank",
    "sclera": "the white of the eye",
    "stertor": "snoring noise, apart from the whistle of stridor",
    "stifle": "the joint of the hind limb that a knee is",
    "stridor": "harsh whistle of a narrow windpipe, apart from snoring",
    "subiliac": "which of the nodes that can be felt",
    "thrill": "a murmur so strong that the hand feels it",
    "trachea": "the windpipe",
    "vulva": "no plainer word says the same part",
}
# Not in a label of staff, but as hard to a volunteer.
ALSO_HARD = (
    "auscult",
    "calculus",
    "carpal",
    "cyano",
    "dyspn",
    "effusion",
    "enucleat",
    "halitosis",
    "icter",
    "lymph",
    "palpat",
    "paresis",
    "perine",
    "pinna",
    "pulp",
    "quadrant",
    "tarsus",
    "testis",
    "thora",
    "ulcer",
)
# A trade word that every reader knows from daily life, or that no word replaces.
KNOWN_TO_ALL = ("vulva",)


def volunteer_labels(protocol: SpeciesProtocol) -> Iterator[str]:
    """Yield every label of an intake look-over and a group check, in their order."""
    for region in protocol.regions:
        if VOLUNTEER_SCOPES & set(region.scopes):
            yield from _volunteer_region(region)
    for vital in protocol.vitals:
        if VOLUNTEER_SCOPES & set(vital.scopes):
            yield from _volunteer_vital(vital, protocol)
    for sign in protocol.urgent_signs:
        yield from (sign.plain, sign.action)
    yield from (caution.text for caution in protocol.cautions)
    yield from labels_of_the_app(Role.VOLUNTEER)


def _volunteer_region(region: Region) -> Iterator[str]:
    yield region.plain_label
    for clause in region.clauses:
        if VOLUNTEER_SCOPES & set(clause.scopes):
            yield clause.plain
    for term in region.terms:
        yield from (term.plain, *term.qualities, *term.places)


def _volunteer_vital(vital: Vital, protocol: SpeciesProtocol) -> Iterator[str]:
    yield from filter(None, (vital.plain_label, vital.how))
    yield from (*vital.sites, *vital.not_done_reasons)
    yield from (choice.plain for choice in vital.choices)
    scale = protocol.scale(vital.scale_id)
    if scale:
        yield from (scale.plain_label, *(grade.label for grade in scale.grades))


def staff_labels(protocol: SpeciesProtocol) -> Iterator[str]:
    """Yield every label of a technician's and a veterinarian's exam."""
    for region in protocol.regions:
        yield from (region.label, region.group, *region.look, *region.feel)
        yield from (*region.listen, *region.awake_limits)
        yield from (clause.text for clause in region.clauses)
        for term in region.terms:
            yield from (term.label, *term.qualities, *term.places)
    for vital in protocol.vitals:
        yield from (vital.label, *vital.sites, *vital.not_done_reasons)
        yield from (choice.label for choice in vital.choices)
    yield from (sign.label for sign in protocol.urgent_signs)
    yield from labels_of_the_app(Role.TECHNICIAN)


def labels_of_the_app(words: Role) -> Iterator[str]:
    """Yield the labels that are the same for every species."""
    yield from (*SCOPE_LABELS.values(), *SCOPE_MEANING.values())
    yield from SETTING_LABELS.values()
    yield from (*NOT_EXAMINED_REASONS, *NOT_PRESENT_REASONS, *RateState)
    pairs = (CALL_LABELS, SEVERITY_LABELS, SINCE_LABELS, OUTCOME_LABELS, STOP_LABELS)
    yield from (label for listed in (*pairs, HOW, WHEN) for _, label in listed)
    yield from (part.title(words) for part in Part)
    asked = (
        visit_forms.PRESENTATION,
        visit_forms.INTAKE,
        bites_asked(None, NINE_O_CLOCK, {}, "own").asks,
        bites_asked(None, NINE_O_CLOCK, {}, "other").asks,
        visit_forms.CARE,
    )
    for ask in (ask for asks in asked for ask in asks):
        yield from (ask.in_words(words), *ask.options)


HARD = re.compile("|".join([*REASONS, *ALSO_HARD]), re.IGNORECASE)


def lacks_plain_words(label: str) -> bool:
    """Whether a label uses a trade term without plain words before it in brackets."""
    outside = re.sub(r"(?<=\w) \([^)]*\)", "", label)
    return any(found[0].lower() not in KNOWN_TO_ALL for found in HARD.finditer(outside))


@pytest.fixture(params=available())
def protocol(request):
    return load_protocol(request.param).protocol


def test_volunteer_meets_no_trade_term_without_plain_words(protocol):
    assert [t for t in volunteer_labels(protocol) if lacks_plain_words(t)] == []


def test_no_label_is_empty(protocol):
    assert all(text.strip() for text in volunteer_labels(protocol))
    assert all(text.strip() for text in staff_labels(protocol))


def test_brackets_excuse_a_term_only_behind_plain_words():
    assert lacks_plain_words("stifle")
    assert lacks_plain_words("Cornea cloudy")
    assert lacks_plain_words("(stifle)")
    assert not lacks_plain_words("knee (stifle)")


def test_every_reason_belongs_to_a_word_that_staff_read():
    every = [load_protocol(species).protocol for species in available()]
    shown = " | ".join(text for p in every for text in staff_labels(p)).lower()
    assert [word for word in REASONS if word not in shown] == []
