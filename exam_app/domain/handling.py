"""The rule that handling stops: signs whose own action is not to restrain any more."""

from exam_app.domain.exam import Exam
from exam_app.domain.protocol import SpeciesProtocol
from exam_app.domain.urgent import UrgentEntry


def newly_stopping(
    before: Exam, after: Exam, protocol: SpeciesProtocol
) -> tuple[UrgentEntry, ...]:
    """Return the signs a change brought up that stop the handling, in their order.

    A sign that stood before, from wherever it came, is not told again: adding a
    detail to a find must not stop the hands a second time.
    """
    known = {entry.sign_id for entry in before.urgent}
    stopping = {sign.sign_id for sign in protocol.urgent_signs if sign.stops_handling}
    fresh = {e.sign_id: e for e in after.urgent if e.sign_id in stopping - known}
    return tuple(fresh.values())
