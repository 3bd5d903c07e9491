"""What a run without a page did, as lines for a person or as JSON."""

import json
from dataclasses import dataclass, field
from typing import Any

from exam_app.domain.wording.visible_text import visible

STORED, WAITING, NOT_ALL = 0, 3, 4


@dataclass(slots=True)
class Report:
    """What a run did, for a person or as JSON."""

    code: int = STORED
    entries: list[dict[str, Any]] = field(default_factory=list)

    def add(self, code: int, **entry: object) -> None:
        """Add what became of one file; the gravest code counts."""
        self.entries.append(dict(entry))
        self.code = max(self.code, code)

    def text(self, *, as_json: bool) -> str:
        """Return the report; no name in it can steer or deceive a terminal."""
        if as_json:
            found = {"exit_code": self.code, "files": self.entries}
            # Escaped by JSON itself, so that names can be taken back exactly.
            return json.dumps(found, indent=1)
        return "\n".join(visible(_line(entry)) for entry in self.entries)


def aside_words(pairs: int, uncompared: int) -> str:
    """Say what of "the same animal?" was not asked; empty when all was."""
    parts = (
        f"{pairs} pairs of animals that may be the same set aside" if pairs else "",
        f"{uncompared} animals compared with nothing" if uncompared else "",
    )
    return ", ".join(part for part in parts if part)


def _line(entry: dict[str, Any]) -> str:
    """Return one entry as a line for a person."""
    if "verified" in entry:
        said = "verified" if entry["verified"] else "NOT verified"
        more = (entry.get("advice") or entry.get("what", ""), entry.get("revoked", ""))
        told = " ".join(str(part) for part in more if part)
        return f"{entry['path']}: {said}. {told}"
    counts: dict[str, int] = {}
    for record in entry.get("records", ()):
        counts[record["outcome"]] = counts.get(record["outcome"], 0) + 1
    parts = [f"{count} {outcome}" for outcome, count in counts.items()]
    code = entry.get("receipt_code")
    parts += [f"receipt code {code}"] if code else []
    parts += [f"missing before it: {entry['missing']}"] if entry.get("missing") else []
    aside = aside_words(entry.get("pairs_aside", 0), entry.get("uncompared", 0))
    parts += [aside] if aside else []
    parts += [str(entry["reason"])] if entry.get("reason") else []
    parts += [entry["advice"]] if entry.get("advice") else []
    return f"{entry['path']}: {entry['state']}. {'; '.join(parts)}".rstrip(". ") + "."
