"""Bring the catalogues of every language to what the code and the protocols say now.

Run as ``python -m tests.catalogues``: it reads every message out of the code and the
protocols, adds what is new to each ``.po`` file, takes out what nobody says any more,
and compiles the ``.mo`` files that the application reads. ``--missing`` prints what a
language has not said yet, as JSON.
"""

import ast
import json
import sys
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from datetime import UTC, datetime
from functools import cache
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from exam_app.domain.animal.body_drawing import Body
from exam_app.domain.protocol.protocol import Scope, SpeciesProtocol
from exam_app.language.catalogue import ENGLISH, LANGUAGES
from exam_app.protocols.bodies import load_body
from exam_app.protocols.loader import (
    available,
    load_protocol,
    pregnancy_windows,
    weight_tables,
)

ROOT = Path(__file__).resolve().parent.parent
CATALOGUES = ROOT / "exam_app" / "language" / "catalogues"
OTHERS = tuple(code for code in LANGUAGES if code != ENGLISH)
# What a person reads of a protocol; ids, units and values are nobody's words.
_WORDS = frozenset(
    (
        "label",
        "stage_id",
        "plain_label",
        "plain",
        "group",
        "look",
        "feel",
        "listen",
        "awake_limits",
        "text",
        "caution",
        "strike_as",
        "qualities",
        "places",
        "sites",
        "not_done_reasons",
        "how",
        "action",
        "note",
        "missing",
        "one",
        "population",
        "error",
    )
)
_DAY = datetime(2026, 11, 30, tzinfo=UTC)
_HEAD = """\
# Translated with a machine's help, not checked by a veterinarian.
#"""
Message = tuple[str | None, str | tuple[str, str]]


@cache
def said_by_code() -> frozenset[Message]:
    """Return every message of the code: its context or nothing, its text or forms.

    Read by Python's own parser, which sees calls inside of f-strings too.
    """
    return frozenset(
        message
        for top in ("exam_app", "sync")
        for path in (ROOT / top).rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Call) and (message := _message(node))
    )


def _message(call: ast.Call) -> Message | None:
    """Return the message that a call gives to the catalogue, if it gives one."""
    texts = [one.value for one in call.args if isinstance(one, ast.Constant)]
    match call.func, texts:
        case ast.Name("tr" | "to_translate"), [str(text), *_] if text:
            return None, text
        case ast.Name("tr_plural"), [str(one), str(many), *_]:
            return None, (one, many)
        case ast.Name("tr_context"), [str(context), str(text), *_]:
            return context, text
    return None


@cache
def said_by_protocols() -> frozenset[Message]:
    """Return every message of every species' protocol, drawing and table."""
    tables = (
        *weight_tables().rules,
        *weight_tables().measures.values(),
        *weight_tables().missing.values(),
        *(one for species in available() for one in pregnancy_windows(species)),
    )
    return frozenset(
        (None, text)
        for text in (
            *(t for species in available() for t in _texts(_protocol(species))),
            *(t for species in available() for t in _drawn(load_body(species))),
            *_texts(tables),
        )
    )


def _protocol(species: str) -> SpeciesProtocol:
    return load_protocol(species).protocol


def _drawn(body: Body) -> Iterator[str]:
    """Give the names of what closer drawings show, and the words beside them."""
    for view in (*body.views.values(), *body.closer.values()):
        yield from (spot.key for spot in view.spots)
        yield from (name for name, _ in view.bands)
        yield from (words for words, _ in view.captions)
        if view.words:
            yield view.words


def said_by_intake(species: str) -> frozenset[str]:
    """Return the messages that an intake look-over of a species shows."""
    protocol = load_protocol(species).protocol
    return frozenset(_texts(intake_only(protocol)))


def intake_only(protocol: SpeciesProtocol) -> tuple[object, ...]:
    """Return the parts of a protocol that an intake look-over asks and says."""
    vitals = tuple(v for v in protocol.vitals if Scope.INTAKE in v.scopes)
    regions = tuple(r for r in protocol.regions if Scope.INTAKE in r.scopes)
    scales = {v.scale_id for v in vitals} | {
        t.scale_id for r in regions for t in r.terms
    }
    return (
        vitals,
        *((r.label, r.plain_label, r.group, r.awake_limits, r.terms) for r in regions),
        *((r.look, r.feel, r.listen) for r in regions),
        *(r.claims[Scope.INTAKE] for r in regions),
        tuple(s for s in protocol.scales if s.scale_id in scales),
        protocol.life_stages,
        protocol.urgent_signs,
        protocol.cautions,
        protocol.label,
    )


def _texts(value: object, name: str = "label") -> Iterator[str]:
    """Give every text in a value that a person reads."""
    if is_dataclass(value):
        for one in fields(value):
            inner = getattr(value, one.name)
            if one.name in _WORDS or not isinstance(inner, str):
                yield from _texts(inner, one.name)
    elif isinstance(value, tuple):
        for one in value:
            yield from _texts(one, name)
    elif isinstance(value, str) and name in _WORDS and any(map(str.isalpha, value)):
        yield value


def read(code: str) -> Catalog:
    """Return the catalogue of a language as its translators left it."""
    path = CATALOGUES / f"{code}.po"
    if not path.exists():
        return Catalog(locale=code)
    with path.open("rb") as file:
        return read_po(file, locale=code)


def brought_up(catalogue: Catalog, code: str) -> Catalog:
    """Return a catalogue with exactly the messages that are said now, in order."""
    wanted = said_by_code() | said_by_protocols()
    new = Catalog(
        locale=code,
        header_comment=_HEAD,
        project="exam-app",
        version="1",
        msgid_bugs_address="",
        last_translator="",
        language_team="",
        # The day is that of no run, so that a run that finds nothing changes nothing.
        creation_date=_DAY,
        revision_date=_DAY,
        fuzzy=False,
    )
    for context, message in sorted(wanted, key=_order):
        known = catalogue.get(message, context)
        new.add(message, known.string if known else "", context=context)
    return new


def _order(message: Message) -> tuple[str, str]:
    context, text = message
    return (text if isinstance(text, str) else text[0], context or "")


def compiled(catalogue: Catalog) -> bytes:
    """Return what the application reads of a catalogue."""
    out = BytesIO()
    write_mo(out, catalogue)
    return out.getvalue()


def missing(catalogue: Catalog) -> list[Message]:
    """Return every message that is said now and that a language does not say."""
    wanted = said_by_code() | said_by_protocols()
    return [one for one in sorted(wanted, key=_order) if not _is_said(catalogue, one)]


def _is_said(catalogue: Catalog, wanted: Message) -> bool:
    context, message = wanted
    known = catalogue.get(message, context)
    strings = (known.string if known else "",)
    forms = strings[0] if isinstance(strings[0], tuple) else strings
    return all(forms)


def main(arguments: list[str]) -> int:
    """Bring every catalogue up to date, or print what is missing."""
    for code in OTHERS:
        catalogue = brought_up(read(code), code)
        if "--missing" in arguments:
            print(json.dumps(missing(catalogue), ensure_ascii=False, indent=0))
            continue
        CATALOGUES.mkdir(exist_ok=True)
        with (CATALOGUES / f"{code}.po").open("wb") as file:
            write_po(file, catalogue, width=0, omit_header=False)
        (CATALOGUES / f"{code}.mo").write_bytes(compiled(catalogue))
        print(f"{code}: {len(catalogue)} messages, {len(missing(catalogue))} not said")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
