"""The animals of a demonstration group: each has an exam of its own, as on a round."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from exam_app.app.demo.demo_exam import Cast, play
from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.app.round_exams import columns_setting
from exam_app.app.signing import store_closed
from exam_app.app.view.round_presenter import chosen_columns, columns_offered, row_exam
from exam_app.domain.animal.groups import row_animal
from exam_app.domain.exam.exam import Exam
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Scope, SpeciesProtocol
from exam_app.protocols.loader import LoadedProtocol
from exam_app.record.draft_codec import animal_to_plain, exam_to_plain
from exam_app.store.projections import open_projection
from exam_app.store.vault import Vault

Told = Mapping[str, Any]
_MINUTE_MS = 60_000


def keep(vault: Vault, exam: Exam, protocol: SpeciesProtocol, when: Moment) -> None:
    """Put a played exam among the closed ones or the drafts."""
    if exam.is_closed:
        store_closed(vault, exam, protocol)
    else:
        shown = open_projection(exam, protocol, when)
        vault.drafts.put(exam.exam_id, exam_to_plain(exam), shown)


def keep_rows(
    vault: Vault, group: Exam, loaded: LoadedProtocol, told: Told, cast: Cast
) -> None:
    """Put every animal of a group and its exam into the vault, a minute apart.

    Args:
        group: The group's own exam.
        told: Its ``[[exams]]`` table; ``columns`` and ``rows`` make the round.

    Raises:
        ExamError: A row tells something the app would refuse.
    """
    protocol = loaded.protocol
    offered = columns_offered(protocol, cast.examiner.role)
    columns = chosen_columns(offered, told.get("columns", ()))
    if "columns" in told:
        name = columns_setting(protocol.species)
        vault.settings.put(name, [column.key for column in columns])
    for place, row in enumerate(told.get("rows", ())):
        now = Moment(cast.now.utc_ms + place * _MINUTE_MS, cast.now.offset_min)
        animal = row_animal(group.animal, cast.new_id(), row["tag"])
        vault.animals.put(animal_to_plain(animal))
        order = ExamOrder(animal, Scope.GROUP, group.setting)
        begun = begin_exam(
            order,
            protocol,
            loaded.content_hash,
            cast.examiner,
            cast.new_id(),
            now,
        )
        exam = row_exam(begun, columns, group.exam_id)
        exam = play(exam, protocol, row, replace(cast, now=now))
        keep(vault, exam, protocol, now)
