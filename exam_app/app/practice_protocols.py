"""Protocols as this device uses them: the practice's own before the program's."""

from exam_app.app.session import Session
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.language.catalogue import tr
from exam_app.protocols.loader import (
    FOLDER_NAME,
    LoadedProtocol,
    PracticeProtocols,
    read_folder,
)


def protocols(session: Session) -> PracticeProtocols:
    """Return what can be examined here; the practice's folder is read each time."""
    return read_folder(session.folder / FOLDER_NAME)


def by_name(known: PracticeProtocols) -> dict[str, SpeciesProtocol]:
    """Return the protocol of each species, in the order of the names shown."""
    found = [(one, known.of(one).protocol) for one in known.species()]
    return dict(sorted(found, key=lambda pair: tr(pair[1].label).casefold()))


def protocol_for(session: Session, species: str) -> LoadedProtocol:
    """Return the protocol that a new exam of a species uses.

    Raises:
        ProtocolFileError: There is none.
    """
    return protocols(session).of(species)


def refused_words(known: PracticeProtocols) -> str:
    """Say which of the practice's own files are not used, and how to learn why."""
    if not known.refused:
        return ""
    names = ", ".join(error.path for error in known.refused)
    first = known.refused[0].problems[0]
    return tr(
        "Not used, because of faults: {names}. The program's own protocol stands in. "
        "First fault: {first}. Run “exam-app protocol check FILE” to see them all.",
        names=names,
        first=first,
    )
