"""Marks on the drawings: what is drawn, what a tap proposes, how it is said.

On a closer drawing a tap proposes a mark that also stands on the whole body: where that
was tapped, or else where its part is drawn.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from exam_app.app.view.body_presenter import key_words
from exam_app.app.view.rest_presenter import lowered
from exam_app.domain.animal.body_drawing import Body, BodyView, Point
from exam_app.domain.animal.body_marks import (
    CLOSER_WHOLES,
    BodyMark,
    CloserView,
    MarkView,
    closer_place,
    mark_at,
)
from exam_app.domain.exam.exam import Exam, keys_offered
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.marks import earlier_marks, marked_findings, next_number
from exam_app.domain.protocol.protocol import SpeciesProtocol, split_key
from exam_app.domain.wording.exam_wording import (
    found_words,
    mark_words,
    side_words,
    summary_shown,
)
from exam_app.domain.wording.phrases import capital
from exam_app.language.catalogue import to_translate, tr

MARKS_LEGEND = to_translate("Disc: of this exam. Broken square: of an earlier one.")


@dataclass(frozen=True, slots=True)
class ShownMark:
    """A mark as a drawing shows it.

    Attributes:
        key: Region key of its finding.
        words: What it is, with part, side and day, for eye and ear alike.
        is_earlier: Whether it is of an earlier record, and drawn faint.
        is_lump: Whether its finding is a lump, which can be measured again.
    """

    mark: BodyMark
    key: str
    finding_id: str
    words: str
    is_earlier: bool = False
    is_lump: bool = False


@dataclass(frozen=True, slots=True)
class Proposal:
    """A part and side that a tap on a drawing can mean; nothing is taken by it.

    Attributes:
        label: Part and side, as ``Chest, left``.
        mark: The mark it would have.
    """

    key: str
    label: str
    mark: BodyMark


@dataclass(frozen=True, slots=True)
class CloserOffer:
    """The closer drawings of one part and side.

    Attributes:
        names: Of the drawings, as ``Body.closer`` has them.
        first: The one to begin with.
        label: What is drawn, as ``left fore foot``.
    """

    names: tuple[str, ...]
    first: str
    label: str


def shown_marks(exam: Exam, protocol: SpeciesProtocol) -> tuple[ShownMark, ...]:
    """Return every mark to be drawn: earlier ones first, below those of now.

    An earlier one that was measured again is drawn once, as one of now.
    """
    before = tuple(
        ShownMark(
            one.mark,
            one.key,
            one.finding_id,
            tr(
                "Earlier mark {number}, {date}: {part}: {finding}",
                number=one.mark.number,
                date=one.date,
                part=key_words(exam, protocol, one.key),
                finding=summary_shown(one, protocol, is_marked=False),
            ),
            is_earlier=True,
            is_lump=one.lump is not None or _is_lump(protocol, one.key, one.term_id),
        )
        for one in earlier_marks(exam)
        if one.mark is not None
    )
    own = tuple(
        ShownMark(
            found.mark,
            key,
            found.finding_id,
            f"{capital(mark_words(found.mark))}: {key_words(exam, protocol, key)}: "
            f"{found_words(found)}",
            is_lump=_is_lump(protocol, key, found.term_id),
        )
        for key, found in marked_findings(exam)
        if found.mark is not None
    )
    return (*before, *own)


def _is_lump(protocol: SpeciesProtocol, key: str, term_id: str) -> bool:
    region = protocol.region(split_key(key)[0])
    term = region.term(term_id) if region else None
    return term is not None and term.is_lump


def on_view(marks: Iterable[ShownMark], view: BodyView) -> tuple[ShownMark, ...]:
    """Return the marks of one drawing."""
    return tuple(one for one in marks if view.name in one.mark.drawings)


def views_marked(marks: Iterable[ShownMark], body: Body) -> tuple[BodyView, ...]:
    """Return the drawings that have a mark, in the order of the body's, then closer."""
    named = {name for one in marks for name in one.mark.drawings}
    drawn = (*body.views.values(), *body.closer.values())
    return tuple(view for view in drawn if view.name in named)


def mark_under(
    marks: Iterable[ShownMark], view: BodyView, point: Point, reach: float
) -> ShownMark | None:
    """Return the mark that a tap means: the nearest within reach, those of now first.

    Args:
        point: The tap, in thousandths of the view's width.
        reach: From a mark's middle, in the same.
    """
    near = []
    for one in on_view(marks, view):
        x, y = one.mark.point(view)
        away = ((point[0] - x) ** 2 + (point[1] - y) ** 2) ** 0.5
        if away <= reach:
            near.append((one.is_earlier, away, one.mark.number, one))
    return min(near, key=lambda found: found[:3])[3] if near else None


def proposals(
    exam: Exam,
    protocol: SpeciesProtocol,
    body: Body,
    view: BodyView,
    point: Point,
    finger: float,
    near: Iterable[Proposal] = (),
) -> tuple[Proposal, ...]:
    """Return the parts and sides that a tap can mean, the likeliest first.

    Those under it, then those that are all over the animal; none beside the animal.

    Args:
        view: The drawing that was tapped, of the whole body or closer.
        point: The tap, in thousandths of the view's width.
        finger: Its width, in the same.
        near: What was proposed on the whole body before the closer drawing was shown.
    """
    keys = keys_offered(exam, protocol)
    if not view.is_on(point, finger):
        return ()
    all_over = (key for key in keys if split_key(key)[0] in body.everywhere)
    # The skin ends at the lips.
    is_mouth = view.name == CloserView.MOUTH
    number, before = next_number(exam), {one.key: one.mark for one in near}
    found = []
    for key in (*view.parts_at(point, finger, keys), *(() if is_mouth else all_over)):
        if view.is_closer:
            mark = _closer_mark(body, view, point, key, before)
        else:
            mark = mark_at(number, view, point)
        if mark is not None:
            mark = replace(mark, number=number)
            words = proposed_words(exam, protocol, key, mark)
            found.append(Proposal(key, words, mark))
    return tuple(found)


def _closer_mark(
    body: Body, view: BodyView, point: Point, key: str, before: Mapping[str, BodyMark]
) -> BodyMark | None:
    """Return the mark of a tap on a closer drawing, also placed on the whole body.

    It stays where the whole body was tapped, if the same part and side can be meant
    there, and stands else where the part is drawn largest; None where it is not.
    """
    place = closer_place(view, point)
    sides = {"left", "right"}
    if (tapped := before.get(key)) and {tapped.side_of_view, place.side} != sides:
        return replace(tapped, closer=place)
    shown = [part for part, names in body.closer_of.items() if view.name in names]
    for part in (key, *shown):
        areas = (
            (area.short_side, mark_at(1, drawn, area.label))
            for drawn in body.views.values()
            for area in drawn.areas
            if area.key == part and not area.is_far
        )
        fitting = [one for one in areas if {one[1].side_of_view, place.side} != sides]
        if fitting:
            return replace(max(fitting, key=lambda one: one[0])[1], closer=place)
    return None


# What is drawn lower of a flank than this share of its height is a foot.
_FOOT_FROM = 0.87


def closer_offers(
    body: Body,
    keys: Iterable[str],
    view: BodyView | None = None,
    point: Point | None = None,
) -> tuple[CloserOffer, ...]:
    """Return the closer drawings of parts, one offer for those that share them.

    Args:
        body: Of the species.
        keys: The parts and sides.
        view: The view of the whole body that was tapped, if it was.
        point: Where, in thousandths of its width: low on a limb its foot comes first.
    """
    is_low = False
    if view is not None and point is not None and view.name in ("left", "right"):
        low = max(y for _, y in view.outline.steps)
        is_low = point[1] > low * _FOOT_FROM
    offers: dict[tuple[str, ...], CloserOffer] = {}
    for key in keys:
        names = body.closer_of.get(key, ())
        if not names or names in offers:
            continue
        feet = [name for name in names if "foot" in name]
        first = feet[0] if is_low and feet else names[0]
        offers[names] = CloserOffer(names, first, _drawn(body.closer[first]))
    return tuple(offers.values())


def _drawn(view: BodyView) -> str:
    """Name what a closer drawing shows, from whatever side it is seen."""
    own = (tr(one) for one in _LIMBS if view.words.endswith(f" of the {one}"))
    return next(own, tr(view.words))


def closer_label(name: str) -> str:
    """Name one closer drawing among those of its part: ``Foot, under``, ``Udder``."""
    view = CloserView(name.partition(".")[0])
    if not view.aspect:
        return capital(tr(CLOSER_WHOLES[view]))
    labels = _OF_A_FOOT if view.thing.endswith("foot") else _OF_A_LIMB
    return tr(labels[view.aspect])


def place_words(
    exam: Exam,
    protocol: SpeciesProtocol,
    body: Body,
    view: BodyView,
    point: Point,
    finger: float,
) -> str:
    """Say what a place on a drawing would mean, for whoever goes there by keys."""
    found = proposals(exam, protocol, body, view, point, finger)
    if not found:
        return tr("Beside what is drawn")
    return ", ".join(filter(None, (found[0].label, tr(view.spot_at(point)))))


def proposed_words(
    exam: Exam, protocol: SpeciesProtocol, key: str, mark: BodyMark
) -> str:
    """Name a part with the side a finding of it would have at a mark."""
    name = key_words(exam, protocol, key)
    return name if split_key(key)[1] else f"{name}, {side_words(mark.side)}"


def why_not_there(
    exam: Exam,
    protocol: SpeciesProtocol,
    key: str,
    finding: Finding,
    mark: BodyMark,
    offered: Iterable[Proposal],
) -> str:
    """Say why a recorded finding cannot have its mark at a place; empty where it can.

    The drawing never says another part or side than the finding does. A side that was
    said by the mark itself goes with it.

    Args:
        key: Region key of the finding.
        mark: The place.
        offered: What the tap there can mean.
    """
    if all(one.key != key for one in offered):
        part = key_words(exam, protocol, key)
        return tr(
            "{part} is not drawn there. Tap it where it is, or in another view.",
            part=part,
        )
    said = {*finding.place.replace(",", " ").split()}
    if finding.mark is None:
        said.add(finding.side)
    sides = {"left", "right"}
    if not split_key(key)[1] and sides & said and mark.side in sides - said:
        if mark.side == "right":
            return tr("The finding is recorded on the left; this is the right.")
        return tr("The finding is recorded on the right; this is the left.")
    return ""


def drawing_words(view: BodyView, marks: Iterable[ShownMark]) -> str:
    """Say which drawing it is, and each mark on it."""
    title = lowered(view_title(view))
    name = (
        tr("Closer drawing, {view}", view=title)
        if view.is_closer
        else tr("Drawing, {view}", view=title)
    )
    return ". ".join(filter(None, (name, marks_words(marks))))


def marks_words(marks: Iterable[ShownMark]) -> str:
    """Say the marks of a drawing in one text; empty where there are none."""
    return ". ".join(one.words for one in marks)


def view_title(view: BodyView) -> str:
    """Name a drawing: ``Left``, ``Outer side of the left fore foot``."""
    if view.name in VIEW_NAMES:
        return tr(VIEW_NAMES[view.name])
    return capital(tr(view.words))


VIEW_NAMES = {
    MarkView.LEFT.value: to_translate("Left"),
    MarkView.RIGHT.value: to_translate("Right"),
    MarkView.TOP.value: to_translate("Top"),
    MarkView.UNDER.value: to_translate("Under"),
    MarkView.LEFT_HEAD.value: to_translate("Head, left"),
    MarkView.RIGHT_HEAD.value: to_translate("Head, right"),
}
_OF_A_FOOT = {
    "outer": to_translate("Foot, outer"),
    "inner": to_translate("Foot, inner"),
    "under": to_translate("Foot, under"),
}
_OF_A_LIMB = {
    "outer": to_translate("Limb, outer"),
    "inner": to_translate("Limb, inner"),
}
_LIMBS = (
    to_translate("left forelimb"),
    to_translate("right forelimb"),
    to_translate("left hindlimb"),
    to_translate("right hindlimb"),
    to_translate("left fore foot"),
    to_translate("right fore foot"),
    to_translate("left hind foot"),
    to_translate("right hind foot"),
    to_translate("left foot"),
    to_translate("right foot"),
)
