"""Marks on the drawings: what is drawn, what a tap proposes, how it is said."""

from collections.abc import Iterable
from dataclasses import dataclass

from exam_app.app.view.body_presenter import key_words
from exam_app.domain.animal.body_drawing import Body, BodyView, Point
from exam_app.domain.animal.body_marks import BodyMark, MarkView, mark_at
from exam_app.domain.exam.exam import Exam, keys_offered
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.marks import earlier_marks, marked_findings, next_number
from exam_app.domain.protocol.protocol import SpeciesProtocol, split_key
from exam_app.domain.wording.exam_wording import mark_words, side_words, without_mark
from exam_app.domain.wording.phrases import capital


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
    """

    key: str
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
            f"Earlier mark {one.mark.number}, {one.date}: "
            f"{key_words(exam, protocol, one.key)}: {without_mark(one)}",
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
            f"{found.words}",
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
    return tuple(one for one in marks if one.mark.view.value == view.name)


def views_marked(marks: Iterable[ShownMark], body: Body) -> tuple[BodyView, ...]:
    """Return the drawings that have a mark, in the order of the body's."""
    named = {one.mark.view.value for one in marks}
    return tuple(view for name, view in body.views.items() if name in named)


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
) -> tuple[Proposal, ...]:
    """Return the parts and sides that a tap can mean, the likeliest first.

    Those under it, then those that are all over the animal; none beside the animal.

    Args:
        point: The tap, in thousandths of the view's width.
        finger: Its width, in the same.
    """
    keys = keys_offered(exam, protocol)
    if not view.is_on(point, finger):
        return ()
    all_over = (key for key in keys if split_key(key)[0] in body.everywhere)
    mark = mark_at(1, view, point)
    return tuple(
        Proposal(key, proposed_words(exam, protocol, key, mark))
        for key in (*view.parts_at(point, finger, keys), *all_over)
    )


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
        return f"{part} is not drawn there. Tap it where it is, or in another view."
    said = {*finding.place.replace(",", " ").split()}
    if finding.mark is None:
        said.add(finding.side)
    sides = {"left", "right"}
    if not split_key(key)[1] and sides & said and mark.side in sides - said:
        side = next(iter(sides & said))
        return f"The finding is recorded on the {side}; this is the {mark.side}."
    return ""


def new_mark(exam: Exam, view: BodyView, point: Point) -> BodyMark:
    """Return the mark of a tap with the number it will have."""
    return mark_at(next_number(exam), view, point)


def drawing_words(view: BodyView, marks: Iterable[ShownMark]) -> str:
    """Say which drawing it is, and each mark on it."""
    name = f"Drawing, {VIEW_NAMES[view.name].lower()}"
    return ". ".join(filter(None, (name, marks_words(marks))))


def marks_words(marks: Iterable[ShownMark]) -> str:
    """Say the marks of a drawing in one text; empty where there are none."""
    return ". ".join(one.words for one in marks)


VIEW_NAMES = {
    view.value: capital(view.words.removesuffix(" view")) for view in MarkView
}
VIEW_NAMES |= {"left_head": "Head, left", "right_head": "Head, right"}
