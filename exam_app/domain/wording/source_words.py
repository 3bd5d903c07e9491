"""How a source is named where a number is shown: who, when, and how it was checked."""

from collections.abc import Iterable

from exam_app.domain.protocol.protocol import Source, SpeciesProtocol
from exam_app.language.catalogue import to_translate, tr

_CHECKED = {
    "read": to_translate("Read by us"),
    "memory": to_translate("Recalled by us, not checked"),
}
_RECALLED_HERE = to_translate("What stands here was recalled, not checked.")


def whole_source(source: Source) -> str:
    """Return a source in full: title, publisher, year, and whether it was read.

    Returns:
        ``Neonatal kitten care (Little). VIN proceedings, 2007. Read by us: text.`` A
        source without a year says so; one that is no publication has neither.
    """
    checked = tr(_CHECKED.get(source.provenance, source.provenance))
    if source.where and source.provenance == "read":
        checked = f"{checked}: {source.where}"
    printed = f"{source.publisher}, {year_of(source)}. " if source.publisher else ""
    return f"{(source.work or source.title).rstrip('.')}. {printed}{checked}."


def year_of(source: Source) -> str:
    """Return the year as printed, or that none was."""
    has_year = any(letter.isdigit() for letter in source.year)
    return source.year if has_year else tr("no year given")


def cited(
    protocol: SpeciesProtocol, source_ids: Iterable[str], provenance: str = ""
) -> str:
    """Return the sources of one thing in full, each once.

    Args:
        protocol: Where they stand; an id it does not have is left out.
        source_ids: Their ids, in the order shown.
        provenance: Of the thing itself: where it was recalled although its source was
            read, that is said too.
    """
    sources = {source.source_id: source for source in protocol.sources}
    named = [sources[name] for name in dict.fromkeys(source_ids) if name in sources]
    is_recalled = provenance == "memory" and any(s.provenance == "read" for s in named)
    words = [whole_source(source) for source in named]
    return " ".join((*words, *([tr(_RECALLED_HERE)] if is_recalled else [])))
