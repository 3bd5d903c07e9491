"""What is known from before of a region: what was found, and parts that are gone."""

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.queries.history import history_before
from exam_app.app.view.history_presenter import (
    day_words,
    found_before_words,
    past_lines,
)
from exam_app.app.view.region_presenter import (
    OUTCOME_LABELS,
    Answer,
    Sign,
    label_of,
    step_name,
)
from exam_app.domain.exam.findings import EarlierOutcome
from exam_app.domain.exam.marks import NOT_FOUND_AGAIN, found_again
from exam_app.domain.protocol.protocol import Region
from exam_app.domain.wording.exam_wording import summary_shown
from exam_app.domain.wording.kept_words import reason_shown
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.animal.history import history_way
from exam_app.ui.animal.past_values import open_lines
from exam_app.ui.finding.lump_sheet import open_lump_again
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.exam_parts import sign_icon
from exam_app.ui.widgets.identifiers import for_choice, for_region
from exam_app.ui.widgets.texts import across, side_by_side

KNOWN = to_translate("known from before")


def found_before(
    tab: Tab, editor: ExamEditor, region: Region, keys: tuple[str, ...]
) -> list[ft.Control]:
    """Say what was found there last, in an exam of any age; a tap opens all of it.

    Nothing where nothing was. What the words say does not change during an exam.
    """
    history = history_before(tab.vault, editor, tab.person.role)
    views = editor.view.regions
    asked = {found.finding_id for key in keys for found in views[key].earlier}
    words = found_before_words(history, keys, asked)

    def opened() -> None:
        if editor.view.current.is_settling:
            return
        way = history_way(tab, editor.exam.animal.animal_id, editor.exam.exam_id)
        title = tr("{part}: found before", part=label_of(editor.exam, region))
        open_lines(tab, title, past_lines(history.found_in(keys)), way)

    name, icon = for_region(region.region_id, "before"), ft.Icons.HISTORY
    return [button(name, words, opened, icon=icon, kind="quiet")] if words else []


def earlier_questions(
    tab: Tab, editor: ExamEditor, keys: tuple[str, ...]
) -> list[ft.Control]:
    """Ask of each open finding of an earlier record what became of it.

    A lump can be measured again here too; one that was is neither gone nor not looked
    for.
    """
    shown: list[ft.Control] = []
    again = found_again(editor.exam)
    for key in keys:
        for found in editor.view.regions[key].earlier:
            is_again = found.finding_id in again
            date, summary = found.date, summary_shown(found, editor.protocol)
            said = tr("Found {date}: {summary}", date=date, summary=summary)
            if is_again:
                said = tr(
                    "Found {date}: {summary}. Measured again in this exam.",
                    date=date,
                    summary=summary,
                )
            words = ft.Text(said, expand=True)
            shown.append(ft.Row([sign_icon(Sign.PARKED), words]))
            buttons = [
                _outcome(tab, editor, found.finding_id, outcome, found.outcome)
                for outcome, _ in OUTCOME_LABELS
                if not (is_again and outcome in NOT_FOUND_AGAIN)
            ]
            if found.lump is not None and not is_again:
                buttons.append(_measure(tab, editor, found.finding_id))
            shown.append(side_by_side(*buttons, spacing=8))
    return shown


def _measure(tab: Tab, editor: ExamEditor, finding_id: str) -> ft.Control:
    def opened() -> None:
        open_lump_again(tab, editor, finding_id)

    name = for_region(finding_id, "again")
    return button(name, tr("Measure it again"), opened, kind="tile")


def _outcome(
    tab: Tab,
    editor: ExamEditor,
    finding_id: str,
    outcome: EarlierOutcome,
    chosen: EarlierOutcome | None,
) -> ft.Control:
    label = tr(dict(OUTCOME_LABELS)[outcome])

    async def tapped() -> None:
        made = region_changes.earlier_answered((finding_id,), outcome)
        step = tr("earlier finding: {outcome}", outcome=label.lower())
        await exam_sessions.change(tab.session, editor, made, step)

    icon = ft.Icons.CHECK if outcome is chosen else None
    name = for_choice(for_region(finding_id, "earlier"), outcome.name.lower())
    return button(name, label, tapped, icon=icon, kind="tile")


def absent_offers(
    tab: Tab, editor: ExamEditor, region: Region, answers: list[Answer]
) -> list[ft.Control]:
    """Offer "not present" in one tap for a part that is known to be gone.

    Known from an earlier exam, which says why; any other answer says that it is there.
    """
    gone = dict.fromkeys(editor.exam.animal.absent, (KNOWN, tr(KNOWN)))
    for line in history_before(tab.vault, editor, tab.person.role).gone:
        why = reason_shown(line.text)
        said = tr("{reason}, said {day}", reason=why, day=day_words(line.at))
        gone[line.key] = (line.text, said)
    return [
        _absent(tab, editor, region, answer, *gone[answer.key])
        for answer in answers
        if answer.is_open and answer.key in gone
    ]


def _absent(
    tab: Tab,
    editor: ExamEditor,
    region: Region,
    answer: Answer,
    reason: str,
    words: str,
) -> ft.Control:
    async def tapped() -> None:
        made = region_changes.not_present((answer.key,), reason)
        name = step_name(editor.exam, region, (answer.key,), tr("not present"))
        await exam_sessions.change(tab.session, editor, made, name)

    side = (
        tr("{side}: not present", side=tr(answer.side))
        if answer.side
        else tr("Not present")
    )
    name = for_region(answer.key, "absent")
    return across(button(name, f"{side}, {words}", tapped, kind="tile"))
