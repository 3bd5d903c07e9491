"""What the drawing of the body says of an open exam: each part's state, in words."""

from collections.abc import Mapping
from enum import StrEnum

from exam_app.app.view.region_presenter import groups, label_of
from exam_app.app.view.rest_presenter import side_label
from exam_app.domain.animal.body_drawing import Body, BodyView
from exam_app.domain.exam.exam import Exam, keys_offered
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.protocol.protocol import Region, SpeciesProtocol, split_key
from exam_app.domain.wording.phrases import capital
from exam_app.language.catalogue import to_translate, tr

VIEW_LABELS = {
    "left": to_translate("Left"),
    "right": to_translate("Right"),
    "top": to_translate("Top"),
    "under": to_translate("Under"),
}


class Mark(StrEnum):
    """How far a part is answered, as the drawing tells it; ``tr`` shows its word."""

    FINDING = to_translate("finding")
    ANSWERED = to_translate("answered")
    OPEN = to_translate("open")


def marks(exam: Exam, protocol: SpeciesProtocol) -> dict[str, Mark]:
    """Return the state of every part and side that this exam can answer."""
    return {key: _mark(exam, key) for key in keys_offered(exam, protocol)}


def _mark(exam: Exam, key: str) -> Mark:
    entry = exam.entry(key)
    if entry.findings:
        return Mark.FINDING
    is_open = entry.state is RegionState.UNEXAMINED
    return Mark.OPEN if is_open else Mark.ANSWERED


def key_words(exam: Exam, protocol: SpeciesProtocol, key: str) -> str:
    """Name a part and its side: ``Eyes, left``."""
    part, side = split_key(key)
    region = protocol.region(part)
    name = label_of(exam, region) if region else part
    return f"{name}, {side_label(side).lower()}" if side else name


def view_words(
    exam: Exam,
    protocol: SpeciesProtocol,
    views: tuple[BodyView, ...],
    said: Mapping[str, Mark],
) -> str:
    """Say what the drawings shown beside each other tell to the eye."""
    drawn = {area.key for view in views for area in view.areas}
    parts = [tr("Drawing, {view}", view=tr(VIEW_LABELS[views[0].name]).lower())]
    for mark in Mark:
        keys = [key for key in said if key in drawn and said[key] is mark]
        names = "; ".join(key_words(exam, protocol, key) for key in keys)
        if keys:
            parts.append(f"{capital(tr(mark.value))}: {names}")
    return ". ".join(parts)


def not_drawn(exam: Exam, protocol: SpeciesProtocol, body: Body) -> tuple[Region, ...]:
    """Return the parts that this exam offers and no view shows, head to tail.

    A practice's own protocol can have parts that our drawing does not know.
    """
    drawn = {
        split_key(area.key)[0] for view in body.views.values() for area in view.areas
    }
    return tuple(
        region
        for group in groups(exam, protocol)
        for region in group.regions
        if region.region_id not in drawn
    )
