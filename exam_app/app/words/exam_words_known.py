"""The words an exam can be told in: its protocol's, the trade's, the practice's."""

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.session import Session
from exam_app.domain.exam.exam import (
    regions_offered,
    sentence_scope,
    vitals_in_scope,
)
from exam_app.domain.words.protocol_words import ProtocolWords
from exam_app.language.catalogue import tr
from exam_app.protocols.trade_words import PracticeWords, words_of

_MOST_KEPT = 4
_Key = tuple[object, ...]
# Made from a protocol in a tenth of a second or more: the last ones are kept.
_kept: dict[_Key, ProtocolWords] = {}


def practice_words(session: Session) -> PracticeWords:
    """Return the words in use here; the practice's file is read each time."""
    return words_of(session.folder)


def words_known(session: Session, editor: ExamEditor) -> ProtocolWords:
    """Return what an exam can be told in words."""
    exam, protocol = editor.exam, editor.protocol
    trade = practice_words(session).trade
    regions, vitals = regions_offered(exam, protocol), vitals_in_scope(exam, protocol)
    scope = sentence_scope(exam)
    key: _Key = (
        exam.protocol_hash,
        scope,
        tuple(r.region_id for r in regions),
        tuple(v.vital_id for v in vitals),
        id(trade),
    )
    found = _kept.pop(key, None)
    # An id can be given again once its words are gone: these are held by theirs.
    if found is None or found.trade is not trade:
        found = ProtocolWords(protocol, scope, regions, vitals, trade)
    _kept[key] = found
    while len(_kept) > _MOST_KEPT:
        del _kept[next(iter(_kept))]
    return found


def refused_words(session: Session) -> str:
    """Say why the practice's own words are not used; empty where they are."""
    refused = practice_words(session).refused
    if refused is None:
        return ""
    first = refused.problems[0]
    return tr(
        "The practice's own words are not used, because of faults. First: {first}.",
        first=first,
    )
