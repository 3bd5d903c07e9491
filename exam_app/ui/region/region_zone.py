"""What answers a part of the body: its buttons, where the thumb is.

They name the part and take no tap for a moment after the list has moved.
"""

from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.strikes import NOTHING_SEEN, Strikes, Struck
from exam_app.app.view.region_presenter import (
    BOTH,
    Answer,
    answer_of,
    claims,
    deed,
    keys_chosen,
    keys_of,
    label_of,
    open_keys,
    side_choices,
    step_name,
    tap_label,
)
from exam_app.app.view.rest_presenter import (
    SIDE_LABELS,
    RestOffer,
    ResultOffer,
    is_beyond_routine,
    only_result,
    parted,
    rest_offers,
    result_offers,
    with_side,
)
from exam_app.domain.exam.denials import rest_claims
from exam_app.domain.protocol.protocol import Region, split_key
from exam_app.domain.protocol.sex_limits import OTHER_SEX, kin_keys, rival_keys
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.finding import finding_sheet
from exam_app.ui.region import more_sheet
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.hands import HANDS
from exam_app.ui.widgets.identifiers import for_choice, for_region
from exam_app.ui.widgets.room import ROOM, SPACE, rows_that_fit
from exam_app.ui.widgets.texts import across, quiet

_SEXES = {"female": to_translate("female"), "male": to_translate("male")}

Say = Callable[[], Awaitable[None]]
Opens = Callable[[Tab, ExamEditor, Region], None]


# Without a repr: see ``RegionRow``.
@dataclass(slots=True, repr=False)
class RegionZone:
    """The rows of buttons of one part; they are drawn when asked for.

    Attributes:
        is_alone: Whether it stands on the region's own screen, without a way there.
        main_button: The answer most often given, of the rows drawn last.
        keys: The keys this exam answers here, left before right.
    """

    tab: Tab
    editor: ExamEditor
    region: Region
    is_alone: bool
    main_button: ft.Semantics | None = field(init=False, default=None)
    keys: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        """Read which sides are asked: an exam's scope never changes."""
        self.keys = keys_of(self.editor.exam, self.editor.protocol, self.region)

    @property
    def name(self) -> str:
        """What the part is called in this exam."""
        return label_of(self.editor.exam, self.region)

    @property
    def strikes(self) -> Strikes:
        """The claims that were struck of its sentence."""
        return Strikes(self.tab.session, self.editor, self.region)

    @property
    def struck(self) -> Struck:
        """What is left out and not recorded; nothing once every side is answered."""
        strikes = self.strikes
        return strikes.now() if strikes.is_open else ()

    def answers(self) -> list[Answer]:
        """Read what was said of each side."""
        exam, protocol = self.editor.exam, self.editor.protocol
        return [answer_of(exam, protocol, k, exam.entry(k)) for k in self.keys]

    async def open_part(self) -> None:
        """Lead to the part's own screen."""
        exam_id = self.editor.exam.exam_id
        await self.tab.go(f"/exam/{exam_id}/region/{self.region.region_id}")

    def rows(self) -> list[ft.Control]:
        """Draw the rows that answer it, the one tapped most often last."""
        rows: list[list[ft.Control]] = []
        if not is_beyond_routine(self.editor.exam, self.region, self.keys):
            rows += rows_that_fit(self._said_else(), ROOM.zone)
            rows += self._in_rows(self._sides())
        self.main_button = next(
            (one for row in reversed(rows) for one in _by_width(row)), None
        )
        return [ft.Row(row, spacing=SPACE) for row in rows if row]

    def _in_rows(self, sides: list[ft.Control]) -> list[list[ft.Control]]:
        """Put the sides in one row, or the answer given most in one of its own."""
        if len(rows_that_fit(sides, ROOM.zone)) < 2:
            return [sides]
        first = _by_width(sides)[0]
        others = [one for one in sides if one is not first]
        return [*rows_that_fit(others, ROOM.zone), [first]]

    def ways(self) -> list[ft.Control]:
        """Make the buttons of what else can be said: a finding, or why not."""
        finding = for_region(self.region.region_id, "finding")
        more = for_region(self.region.region_id, "more")
        find = self._way(finding, tr("Finding"), finding_sheet.open_terms)
        if is_beyond_routine(self.editor.exam, self.region, self.keys):
            return [find]
        return [find, self._way(more, tr("Other"), more_sheet.open_more)]

    def _way(self, identifier: str, words: str, opens: Opens) -> ft.Semantics:
        async def tapped() -> None:
            if not self.editor.view.current.is_settling:
                opens(self.tab, self.editor, self.region)

        return button(
            identifier,
            words,
            tapped,
            expand=3,
            spoken=f"{self.name}: {words.lower()}",
            kind="tile",
            size="thumb",
        )

    def rest_offers(self) -> tuple[RestOffer, ...]:
        """Say what one tap still records beside a find."""
        return rest_offers(self.editor.exam, self.region, self.keys, self.strikes.now())

    def _said_else(self) -> list[ft.Control]:
        """Offer the rest beside a find, or a result that stands in a claim's place."""
        exam, left_out = self.editor.exam, self.strikes.now()
        if rest := self.rest_offers():
            return [self._rest(offer) for offer in rest]
        still_open = open_keys(exam, self.keys)
        if not still_open:
            return []
        results = result_offers(exam, self.region, still_open[0], left_out)
        # One result is one tap; several at once are said on the part's page.
        return [self._result(results[0], still_open)] if len(results) == 1 else []

    def _rest(self, offer: RestOffer) -> ft.Control:
        asks_first = offer.asks and not self.is_alone

        async def tapped() -> None:
            if asks_first:
                await self.open_part()
            else:
                await self._say((offer.key,), self.strikes.now(), asked=True)

        label = tr("The rest …") if asks_first else tr("The rest: no abnormality")
        return button(
            for_region(offer.key, "rest"),
            with_side(tr(offer.side), label),
            tapped,
            expand=1,
            spoken=offer.text,
            kind="main tile",
            size="thumb",
        )

    def _result(self, offer: ResultOffer, keys: tuple[str, ...]) -> ft.Control:
        async def tapped() -> None:
            await self._say_of_open(keys, offer.left_out)

        side = (
            tr("Both")
            if len(keys) > 1
            else tr(SIDE_LABELS.get(split_key(keys[0])[1], ""))
        )
        name = for_region(self.region.region_id, "result")
        return button(
            for_choice(name, offer.clause_id),
            with_side(side, tr(offer.label)),
            tapped,
            expand=1,
            kind="tile",
            size="thumb",
        )

    async def _say_of_open(self, keys: tuple[str, ...], left_out: Struck) -> None:
        # The keys still open when the finger came down, not a later set.
        still_open = open_keys(self.editor.exam, keys)
        if not still_open or self.editor.view.current.is_settling:
            return
        if self._sex_decides():
            self._ask_sex(still_open, left_out)
        else:
            await self._say(still_open, left_out, asked=self.is_alone)

    def _sex_decides(self) -> bool:
        """Whether the answer would say which sex an animal is that nobody noted."""
        exam, protocol = self.editor.exam, self.editor.protocol
        rivals = rival_keys(exam, protocol, self.region)
        if not rivals:
            return False
        kin = kin_keys(exam, protocol, self.region)
        return not any(exam.entry(key).is_answered for key in (*rivals, *kin))

    def _ask_sex(self, keys: tuple[str, ...], left_out: Struck) -> None:
        tab = self.tab
        known = (_SEXES.get(sex, sex) for sex in self.region.sexes)
        sexes = tr(" or ").join(map(tr, known))

        async def own() -> None:
            tab.close_sheet()
            await self._say(keys, left_out, asked=self.is_alone)

        async def other() -> None:
            tab.close_sheet()
            made = region_changes.not_present(self.keys, OTHER_SEX)
            name = step_name(
                self.editor.exam, self.region, self.keys, tr("not present")
            )
            await exam_sessions.change(tab.session, self.editor, made, name)

        yes = tr("Yes, {sexes}: no abnormality", sexes=sexes)
        no = tr("No: not present, other sex")
        tab.open_sheet(
            tr("{part}: is it {sexes}?", part=self.name, sexes=sexes),
            quiet(
                tr(
                    "The sex is not noted. "
                    "Parts of one sex rule out those of the other."
                )
            ),
            across(button("sex-own", yes, own, kind="main tile", size="hands")),
            across(button("sex-other", no, other, kind="tile", size="hands")),
        )

    async def _say(
        self, keys: tuple[str, ...], left_out: Struck, *, asked: bool
    ) -> None:
        """Record the sentence of some sides, without what is left out of it.

        Args:
            asked: Whether the examiner saw each claim and said what own words deny.
        """
        strikes, exam = self.strikes, self.editor.exam
        out = parted(self.region, left_out)
        if len(out.struck) == len(claims(exam, self.region)):
            self.tab.tell(tr(NOTHING_SEEN))
            return
        what = deed(exam, self.region, keys, left_out)
        name = step_name(exam, self.region, keys, what)
        denied = out.denied if asked else out.denied or None
        made = region_changes.what_is_left(keys, out.struck, out.instead, denied)
        if await exam_sessions.change(self.tab.session, self.editor, made, name):
            strikes.settle()

    def _can_say(self, answer: Answer) -> bool:
        """Whether one tap has anything to say; an earlier find may deny it all."""
        exam = self.editor.exam
        return answer.is_open and bool(rest_claims(exam, self.region, answer.key))

    def _sides(self) -> list[ft.Control]:
        """Make the answer of one tap: of the part, or left, both and right."""
        sayable = [answer for answer in self.answers() if self._can_say(answer)]
        if not sayable:
            return []
        if len(sayable) == 1:
            answer = sayable[0]
            return [self._normal(answer.key, tr(answer.side))]
        first = self._pointed_at() or BOTH
        return [
            self._normal(choice, tr(side))
            if choice == first
            else self._only(choice, tr(side))
            for choice, side in side_choices(self.keys)
            if not HANDS.gloved or choice in (first, BOTH)
        ]

    def _pointed_at(self) -> str:
        """Return the side that was tapped on the drawing, as long as it is current."""
        current = self.editor.view.current
        if current.place != self.region.region_id or not current.side:
            return ""
        return next((k for k in self.keys if split_key(k)[1] == current.side), "")

    def _normal(self, choice: str, side: str) -> ft.Control:
        left_out = self.struck
        struck = len(parted(self.region, left_out).struck)
        result = only_result(self.editor.exam, self.region, self.keys[0], left_out)
        where = self.region.region_id if choice == BOTH else choice
        return button(
            for_region(where, "normal"),
            tap_label(self.name, side, result, struck),
            self._saying(choice),
            expand=3,
            spoken=self._spoken("" if choice == BOTH else side),
            kind="main tile",
            size="thumb",
        )

    def _only(self, choice: str, side: str) -> ft.Control:
        where = self.region.region_id if choice == BOTH else choice
        return button(
            for_region(where, "normal"),
            side,
            self._saying(choice),
            expand=1,
            spoken=self._spoken(side),
            kind="tile",
            size="thumb",
        )

    def _spoken(self, side: str) -> str:
        name = f"{self.name}, {side.lower()}" if side else self.name
        return tr("{part}: no abnormality found", part=name)

    def _saying(self, choice: str) -> Say:
        async def tapped() -> None:
            keys = keys_chosen(choice, self.keys)
            await self._say_of_open(keys, self.strikes.now())

        return tapped


def _by_width(row: list[ft.Control]) -> list[ft.Semantics]:
    """Return the buttons of a row, the widest first."""
    buttons = [one for one in row if isinstance(one, ft.Semantics)]
    return sorted(buttons, key=lambda one: -int(one.expand or 0))
