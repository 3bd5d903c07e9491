"""How a source is named where a number is shown: who, when, and how it was checked."""

from exam_app.domain.protocol import Source

_CHECKED = {
    "read": "Read by us",
    "memory": "Recalled by us, not checked",
}


def whole_source(source: Source) -> str:
    """Return a source in full: title, publisher, year, and whether it was read.

    Returns:
        ``Neonatal kitten care (Little). VIN proceedings, 2007. Read by us: text.`` A
        source without a year says so; one that is no publication has neither.
    """
    checked = _CHECKED.get(source.provenance, source.provenance)
    if source.where and source.provenance == "read":
        checked = f"{checked}: {source.where}"
    printed = f"{source.publisher}, {year_of(source)}. " if source.publisher else ""
    return f"{(source.work or source.title).rstrip('.')}. {printed}{checked}."


def year_of(source: Source) -> str:
    """Return the year as printed, or that none was."""
    has_year = any(letter.isdigit() for letter in source.year)
    return source.year if has_year else "no year given"
