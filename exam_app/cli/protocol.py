"""The command ``protocol check``: explain every fault of a practice's own files."""

from pathlib import Path

from exam_app.cli.store import Commands
from exam_app.protocols.codec import Fault, ProtocolFileError
from exam_app.protocols.loader import LoadedProtocol, load_file
from exam_app.protocols.trade_words import FILE_NAME, words_of


def add_protocol_command(commands: Commands) -> None:
    """Add the command to those of the app."""
    protocol = commands.add_parser("protocol", help="check a practice's own protocol")
    kinds = protocol.add_subparsers(dest="protocol_command", required=True)
    check = kinds.add_parser(
        "check",
        help="read protocol files and explain every fault; changes nothing",
        description="Read protocol files and explain every fault. "
        "Exit code 0 when every file can be used, 1 when one has faults.",
    )
    check.add_argument("files", type=Path, nargs="+", metavar="FILE")


def check_protocols(paths: list[Path]) -> str:
    """Return what each file holds.

    Raises:
        ProtocolFileError: A file has faults; every fault of every file is in it.
    """
    lines: list[str] = []
    faults: list[Fault] = []
    for path in paths:
        try:
            if path.name == FILE_NAME:
                lines.append(f"{path.name}: {words_summary(path)}")
            else:
                lines.append(f"{path.name}: {summary(load_file(path))}")
        except ProtocolFileError as error:
            faults += error.problems
    if faults:
        raise ProtocolFileError(str(paths[0].name), tuple(faults))
    return "\n".join(lines)


def words_summary(path: Path) -> str:
    """Return in one line what a practice's file of words holds.

    Raises:
        ProtocolFileError: It has faults.
    """
    found = words_of(path.parent)
    if found.refused is not None:
        raise found.refused
    phrases = len(found.trade.phrases)
    told = "can be used, beside the words that come with the program"
    return f"{told}; {phrases} short forms."


def summary(loaded: LoadedProtocol) -> str:
    """Return in one line what a protocol that can be used holds."""
    protocol = loaded.protocol
    recalled = {s.source_id for s in protocol.sources if s.provenance == "memory"}
    unread = sum(row.source_id in recalled for row in protocol.intervals)
    return (
        f"can be used. {protocol.label}, version {protocol.version}: "
        f"{len(protocol.regions)} parts, {len(protocol.vitals)} vitals, "
        f"{len(protocol.intervals)} published rows ({unread} recalled, not checked), "
        f"{len(protocol.urgent_signs)} urgent signs, {len(protocol.missing)} things "
        f"listed as missing. Content {loaded.content_hash[:16]}."
    )
