"""Animals that may be the same, and fields that two sides changed: a person decides."""

from functools import partial

import flet as ft

from exam_app.app.exam_sessions import now
from exam_app.app.queries import clinic_records
from exam_app.app.view.clinic_identity_presenter import (
    ClashQuestion,
    JoinQuestion,
    Side,
)
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.identity import MOST_ASKED, JoinsAside
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import nothing_yet
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side, strong

_SAME, _DIFFERENT = "same", "different"
_OURS, _THEIRS = "keep ours", "take theirs"
MOST_SHOWN = 20
_NO_QUESTION = to_translate(
    "No question is open. Two animals that may be one, or details that differ, will "
    "stand here side by side until a person decides."
)


async def build(tab: Tab) -> Screen:
    """Build every open question of identity."""
    vault = tab.vault
    joins = await tab.session.read(lambda: clinic_records.join_questions(vault))
    clashes = await tab.session.read(lambda: clinic_records.clash_questions(vault))
    aside = await tab.session.read(lambda: clinic_records.pairs_aside(vault))
    is_nothing = not joins and not clashes and not aside
    nothing = [nothing_yet(tr(_NO_QUESTION))] if is_nothing else []
    hidden = sum(max(0, len(one) - MOST_SHOWN) for one in (joins, clashes))
    later = tr("{count} more are shown as these are answered.", count=hidden)
    more = [quiet(later)] if hidden else []
    return Screen(
        title=tr("Which animal is it?"),
        subtitle=tr("Nothing is joined or changed by itself."),
        back="/",
        body=[
            *(_clash(tab, clash) for clash in clashes[:MOST_SHOWN]),
            *(_join(tab, join) for join in joins[:MOST_SHOWN]),
            *more,
            *(_aside(tab, one, words) for one, words in aside),
            *nothing,
        ],
    )


def _aside(tab: Tab, one: JoinsAside, words: str) -> ft.Control:
    async def ask() -> None:
        at = now().utc_ms
        identity = Exchange(tab.vault).identity
        await tab.save(lambda: identity.ask_joins(one.key, MOST_ASKED, at))
        await tab.show_route()

    name = for_choice("clinic-join-aside", one.key[:8])
    label = tr("Ask the next {count}", count=MOST_ASKED)
    action = [button(name, label, ask)] if one.count else []
    return section(tr("Set aside"), paragraph(words), side_by_side(*action))


def _join(tab: Tab, question: JoinQuestion) -> ft.Control:
    vault, key, short = tab.vault, question.key, question.key[:8]

    async def decide(decision: str) -> None:
        by, at = tab.person.name, now().utc_ms
        identity = Exchange(vault).identity
        await tab.save(lambda: identity.decide_join(key, decision, by, at))
        await tab.show_route()

    async def same() -> None:
        await decide(_SAME)
        tab.tell(tr("Joined: their records are shown together."), undo=again)

    async def different() -> None:
        await decide(_DIFFERENT)
        tab.tell(tr("Kept apart; this pair is not proposed again."), undo=again)

    again = partial(decide, "open")
    one, other = question.sides
    return section(
        tr("{one} and {other}: the same animal?", one=one.name, other=other.name),
        paragraph(question.because),
        ft.ResponsiveRow(
            [_side(side) for side in question.sides],
            vertical_alignment=ft.CrossAxisAlignment.START,
        ),
        side_by_side(
            button(for_choice("clinic-join-yes", short), tr("The same animal"), same),
            button(for_choice("clinic-join-no", short), tr("Not the same"), different),
        ),
    )


def _side(side: Side) -> ft.Control:
    lines: list[ft.Control] = [strong(side.name)]
    for label, value, differs in side.lines:
        weight = ft.FontWeight.W_700 if differs else None
        said = (
            tr("{label}: {value} (differs)", label=label, value=value)
            if differs
            else f"{label}: {value}"
        )
        lines.append(ft.Text(said, weight=weight))
    lines.append(quiet(side.seen))
    box = ft.Container(ft.Column(lines, spacing=4), padding=8)
    return ft.Container(box, col={"xs": 12, "md": 6})


def _clash(tab: Tab, clash: ClashQuestion) -> ft.Control:
    async def decide(choice: str) -> None:
        vault, by, at = tab.vault, tab.person.name, now().utc_ms
        await tab.save(lambda: Exchange(vault).decide_clash(clash.key, choice, by, at))
        await tab.show_route()
        field, animal = clash.label, clash.animal
        tab.tell(tr("{field} of {animal} was decided.", field=field, animal=animal))

    short = clash.key[:24].replace(":", "-")
    ours = tr("Keep here: {ours}", ours=clash.ours)
    theirs = tr("Take {came}: {theirs}", came=clash.came, theirs=clash.theirs)
    keep = for_choice("clinic-clash", f"ours-{short}")
    take = for_choice("clinic-clash", f"theirs-{short}")
    box = section(
        f"{clash.animal}: {clash.label.lower()}",
        paragraph(tr("It was changed here and on the device, differently.")),
        side_by_side(
            button(keep, ours, partial(decide, _OURS)),
            button(take, theirs, partial(decide, _THEIRS)),
        ),
    )
    return identified(for_choice("clinic-clash", short), box)
