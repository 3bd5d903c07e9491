"""How an animal answered to the hands stands where the next hand is about to go."""

from dataclasses import replace

import pytest

from exam_app.app import exam_sessions, region_changes
from exam_app.app.queries.earlier_reactions import earlier_reactions
from exam_app.app.signing import store_closed
from exam_app.domain.exam.closing import close, stop_early
from exam_app.domain.exam.exam import StopReason, regions_offered
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.handling import Reaction, reactions_of, tells_of_reaction
from exam_app.domain.exam.region_states import Conclusion, RegionEntry, StruckClause
from exam_app.domain.moments import Moment
from exam_app.ui.animal import kennel
from exam_app.ui.exam import handling_warnings, start
from exam_app.ui.region.region_row import RegionRow
from tests.app.test_bites_on_every_view import CALM, DOG, OTHER, begun, put, session
from tests.exam_samples import ANIMAL, BY, NOW, TECHNICIAN
from tests.screen_words import tab_at, words_of

__all__ = ["session"]

EXAM = "e" * 32
LEFT = "ears.left"
SNAPS = "Snaps when ears are touched"
DAY = NOW.date_and_time()[:10]


def with_entry(exam, key, **said):
    return replace(exam, regions={key: RegionEntry(attribution=BY, **said)})


def own_words(words, **more):
    return Finding("1" * 32, words, BY, **more)


SAID = {
    "remark": ({"remark": SNAPS}, SNAPS),
    "finding in own words": ({"findings": (own_words(SNAPS),)}, SNAPS),
    "note of a finding": (
        {"findings": (own_words("warm", term_id="warm", note="kicked at me"),)},
        "kicked at me",
    ),
    "term of a threat": (
        {"findings": (own_words("Fear or threat shown", term_id="fearful"),)},
        "Fear or threat shown",
    ),
    "left as unsafe": (
        {"conclusion": Conclusion.NOT_EXAMINED, "reason": "unsafe"},
        "not examined: unsafe",
    ),
    "not all seen": (
        {"struck": (StruckClause("feel", "not painful", "not tolerated"),)},
        "not all seen: not tolerated",
    ),
}


@pytest.mark.parametrize(("said", "text"), SAID.values(), ids=SAID)
def test_what_tells_of_the_animals_answer_is_kept_with_its_part(said, text):
    exam = with_entry(begun(EXAM), "ears", **said)
    assert reactions_of(exam) == (Reaction("ears", text),)


@pytest.mark.parametrize(
    "text",
    [
        "snapped at the hand",
        "growls",
        "Kicks out with the left hind",
        "bites when lifted",
        "tried to bite",
        "bit me",
        "scratches people",
        "struck out",
        "pulled away when touched",
        "head shy",
        "not tolerated",
        "muzzle needed",
    ],
)
def test_own_words_that_tell_of_a_reaction_are_known(text):
    assert tells_of_reaction(text)


@pytest.mark.parametrize(
    "text",
    [
        "a bit of wax",
        "flea bites",
        "insect bites on the left",
        "bites itself",
        "scratches its ear",
        "kicks at the belly",
        "old bite wound",
        "snapshot taken",
        "warm, not painful",
        "",
    ],
)
def test_words_of_a_body_are_no_reaction(text):
    assert not tells_of_reaction(text)


def test_term_of_the_body_is_no_reaction():
    bites = own_words("Rubs or bites itself; growls in the belly", term_id="itch")
    assert reactions_of(with_entry(begun(EXAM), "coat", findings=(bites,))) == ()


def test_what_was_said_of_both_sides_is_said_once():
    both = {key: RegionEntry(remark=SNAPS) for key in (LEFT, "ears.right")}
    assert reactions_of(replace(begun(EXAM), regions=both)) == (
        Reaction("ears", SNAPS),
    )


def test_exam_stopped_as_unsafe_tells_of_the_whole_animal():
    exam = stop_early(begun(EXAM), DOG.protocol, StopReason.UNSAFE, "lunged", BY)
    assert Reaction("", "stopped early: lunged") in reactions_of(exam)


async def remarked(session):
    """An open exam in which a remark on the ears was typed just now."""
    put(session.vault, begun(EXAM))
    tab = tab_at(session, f"/exam/{EXAM}")
    opened = await exam_sessions.open_exam(tab.session, EXAM)
    made = region_changes.remark((LEFT,), SNAPS)
    assert await exam_sessions.change(tab.session, opened, made, "remark")
    return tab, opened


async def test_remark_stands_above_every_screen_of_its_exam_at_once(session):
    put(session.vault, begun(EXAM))
    tab = tab_at(session, f"/exam/{EXAM}")
    opened = await exam_sessions.open_exam(tab.session, EXAM)
    (shown,) = handling_warnings.notice(tab)
    assert not shown.visible
    made = region_changes.remark((LEFT,), SNAPS)
    await exam_sessions.change(tab.session, opened, made, "remark")
    assert shown.visible
    assert words_of(shown) == f"CAN HURT YOU: Ears, left: {SNAPS}"
    for place in ("/region/nose", "/vitals", "/review"):
        other = tab_at(session, f"/exam/{EXAM}{place}")
        assert SNAPS in words_of(handling_warnings.notice(other))


async def later_exam(session, state):
    """Another exam of the animal, while the first is open or after it was closed."""
    _, opened = await remarked(session)
    if state != "open":
        exam = stop_early(opened.exam, DOG.protocol, StopReason.ESCAPED, "", BY)
        closed = close(exam, DOG.protocol, TECHNICIAN, NOW)
        store_closed(session.vault, closed, DOG.protocol)
    if state == "closed by an earlier version":
        (row,) = session.vault.closed.for_animal(ANIMAL.animal_id)
        kept = session.vault.closed._table.fetch(EXAM)
        session.vault.closed._table.put(
            EXAM, {k: v for k, v in kept.items() if k != "reactions"}
        )
        assert row.reactions
    session.editors.clear()
    for exam in (begun(OTHER), begun("8" * 32, CALM)):
        put(session.vault, exam)
    tab = tab_at(session, f"/exam/{OTHER}")
    return tab, await exam_sessions.open_exam(tab.session, OTHER)


STATES = ("open", "closed", "closed by an earlier version")


@pytest.mark.parametrize("state", STATES)
async def test_remark_stands_on_the_parts_row_and_above_a_later_exam(session, state):
    tab, opened = await later_exam(session, state)
    said = words_of(handling_warnings.notice(tab))
    assert said == f"CAN HURT YOU: Ears, left: {SNAPS} ({DAY})"
    marked = [
        region.region_id
        for region in regions_offered(opened.exam, opened.protocol)
        if SNAPS in words_of(RegionRow(tab, opened, region).card())
    ]
    assert marked == ["ears"]
    region = DOG.protocol.region("ears")
    alone = words_of(RegionRow(tab, opened, region, is_alone=True).card())
    assert f"{SNAPS} ({DAY})" in alone
    calm = tab_at(session, f"/exam/{'8' * 32}")
    await exam_sessions.open_exam(calm.session, "8" * 32)
    assert SNAPS not in words_of(handling_warnings.notice(calm))


async def test_a_warning_of_many_exams_ago_is_still_said(session):
    warned = replace(begun(EXAM), regions={LEFT: RegionEntry(remark=SNAPS)})
    for number, one in enumerate((warned, *[begun("d" * 32)] * 9)):
        at = Moment(NOW.utc_ms + number * 86_400_000, NOW.offset_min)
        day = replace(one, exam_id=f"{number + 1:032x}", started=at)
        exam = stop_early(day, DOG.protocol, StopReason.ESCAPED, "", BY)
        closed = close(exam, DOG.protocol, TECHNICIAN, at)
        store_closed(session.vault, closed, DOG.protocol)
    known = earlier_reactions(session.vault, ANIMAL.animal_id)
    assert Reaction(LEFT, SNAPS, DAY) in known


@pytest.mark.parametrize("state", STATES)
async def test_remark_stands_at_the_start_and_on_the_kennel_card(session, state):
    await later_exam(session, state)
    tab = tab_at(session, f"/start/{ANIMAL.animal_id}")
    said = words_of(await start.build(tab, ANIMAL.animal_id))
    assert f"Ears, left: {SNAPS} ({DAY})" in said
    card = words_of(await kennel.build(tab_at(session, "/kennel/x"), ANIMAL.animal_id))
    assert f"Can hurt you\nears, left: {SNAPS}" in card


async def test_row_of_the_exam_itself_says_its_own_remark_once(session):
    tab, opened = await remarked(session)
    region = DOG.protocol.region("ears")
    assert words_of(RegionRow(tab, opened, region).card()).count(SNAPS) == 1


async def test_whole_of_a_long_warning_opens_at_a_tap(session, monkeypatch):
    tab, _ = await remarked(session)
    said = []
    monkeypatch.setattr(
        type(tab), "open_sheet", lambda _tab, _title, *lines, **_: said.extend(lines)
    )
    bar = handling_warnings.notice(tab)[0].content
    bar.content.on_click()
    assert words_of(said) == f"Ears, left: {SNAPS}"


async def test_behaviour_stands_with_the_warnings_only_where_it_tells_of_one(session):
    for exam_id, behaviour in ((EXAM, "growls at men"), (OTHER, "friendly, licks")):
        put(session.vault, begun(exam_id, replace(ANIMAL, behaviour=behaviour)))
        tab = tab_at(session, f"/exam/{exam_id}")
        await exam_sessions.open_exam(tab.session, exam_id)
        said = words_of(handling_warnings.notice(tab))
        assert said == ("CAN HURT YOU: growls at men" if exam_id == EXAM else "")
