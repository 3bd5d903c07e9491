"""A form in plain Python: what it asks, what stands in it, what is wrong with it.

A screen describes its fields; ``ui.widgets.form`` draws them. What stands in a field is
always a text: a key where one is chosen, several keys on a line each, ``YES`` where
something is so.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum, auto
from typing import Any

from exam_app.app.typed_entries import Typed
from exam_app.domain.exam.people import Role
from exam_app.language.catalogue import tr


class Kind(Enum):
    """How a field is answered; a measured one is a number that may carry its unit."""

    TEXT = auto()
    NUMBER = auto()
    MEASURED = auto()
    PHONE = auto()
    SECRET = auto()
    PIN = auto()
    CHOICE = auto()
    SEVERAL = auto()
    TOGGLE = auto()


SECRETS = frozenset({Kind.SECRET, Kind.PIN})
CHOSEN = frozenset({Kind.CHOICE, Kind.SEVERAL, Kind.TOGGLE})
YES = "yes"


@dataclass(frozen=True, slots=True)
class Ask:
    """One field of a form.

    Attributes:
        name: Field of the domain's class.
        label: In the trade's words, in English as every text here; stands above a
            choice.
        plain: For volunteers, where it differs.
        hint: Stands below it.
        options: Words a tap writes into the field, in English.
        option_labels: What stands on each of them, where it is not those words.
        is_more: Whether it stands under "More".
        block: Whom this field and those after it are about, as a heading above it.
        kind: How it is answered.
        choices: ``(key, label)`` of what can be chosen, in the order shown.
        is_clearable: Whether a second tap takes a choice back.
        columns: How many choices stand in a row of equal cells, so that nothing moves
            when one is chosen; 0: as many as there is room for.
        start: What stands in it at first, where nothing is saved.
        required: The sentence that asks for it when it was left empty.
        identifier: Finds its control; without one, the form's prefix and its name.
    """

    name: str
    label: str
    plain: str = ""
    hint: str = ""
    lines: int = 1
    options: tuple[str, ...] = ()
    option_labels: tuple[str, ...] = ()
    is_more: bool = False
    block: str = ""
    kind: Kind = Kind.TEXT
    choices: tuple[tuple[str, str], ...] = ()
    is_clearable: bool = False
    columns: int = 0
    start: str = ""
    required: str = ""
    identifier: str = ""

    def in_words(self, words: Role) -> str:
        """Return the label for the one who reads it."""
        is_plain = words is Role.VOLUNTEER and self.plain
        return tr(self.plain if is_plain else self.label)

    def short(self, words: Role) -> str:
        """Return the label without what explains it."""
        return self.in_words(words).partition(":")[0]

    def option_label(self, words: str) -> str:
        """Return what stands on an option; words that are none stay as they are."""
        if words not in self.options:
            return words
        labels = self.option_labels or self.options
        return tr(labels[self.options.index(words)])


def choice(
    name: str,
    label: str,
    choices: tuple[tuple[str, str], ...],
    identifier: str = "",
    **more: Any,  # noqa: ANN401
) -> Ask:
    """Return a field in which one key is chosen; ``more`` are other fields of it."""
    more["identifier"] = identifier
    return Ask(name, label, kind=Kind.CHOICE, choices=choices, **more)


def starts(asks: tuple[Ask, ...]) -> dict[str, str]:
    """Return what stands in fields at first, by name."""
    return {ask.name: ask.start for ask in asks}


@dataclass(slots=True, repr=False)
class Form:
    """What stands in the fields now.

    Attributes:
        prefix: Begins the identifiers of fields that have none of their own.
        saved: What is saved already, by field.
        typed: Where what is typed is kept until it is saved: it survives closing, a
            lock and a kill. A secret is never kept.
        is_by_name: Whether it is kept under the fields' names; else a text is kept
            under its identifier.
        saves_choices: Whether a choice is saved by its tap, so that texts alone are
            kept.
        texts: As typed, by field.
    """

    asks: tuple[Ask, ...]
    prefix: str = ""
    saved: Mapping[str, str] = field(default_factory=dict)
    typed: Typed | None = None
    is_by_name: bool = False
    saves_choices: bool = False
    texts: dict[str, str] = field(init=False)

    def __post_init__(self) -> None:
        """Begin with what was typed before, or else with what is saved."""
        self.texts = {ask.name: self._begun(ask) for ask in self.asks}

    def __getitem__(self, name: str) -> str:
        """Return what stands in a field, without spaces at either end."""
        return self.texts[name].strip()

    def ask(self, name: str) -> Ask:
        """Return the field of this name."""
        return next(ask for ask in self.asks if ask.name == name)

    def identifier(self, ask: Ask) -> str:
        """Return what finds the control of a field."""
        return ask.identifier or f"{self.prefix}-{ask.name}"

    def values(self) -> dict[str, str]:
        """Return what stands in every field, without spaces at either end."""
        return {name: text.strip() for name, text in self.texts.items()}

    def several(self, name: str) -> tuple[str, ...]:
        """Return the keys chosen, in the order shown."""
        return tuple(self.texts[name].split("\n")) if self.texts[name] else ()

    def put(self, name: str, text: str) -> None:
        """Keep what stands in a field now."""
        ask = self.ask(name)
        self.texts[name] = text
        if self.typed is not None and self._is_kept(ask):
            self.typed.note(self._kept_as(ask), text, self._saved(ask))

    def drop(self) -> None:
        """Forget what was typed, since it is saved."""
        if self.typed is not None:
            self.typed.drop()

    def was_saved(self, *names: str) -> None:
        """Forget what was typed in some fields, since it is saved now."""
        self.saved = {**self.saved, **{name: self.texts[name] for name in names}}
        if self.typed is not None:
            self.typed.forget(*(self._kept_as(self.ask(name)) for name in names))

    def missing(self) -> tuple[str, str]:
        """Return the first field left empty that must not be, and its sentence."""
        for ask in self.asks:
            if ask.required and not self[ask.name]:
                return ask.name, ask.required
        return "", ""

    def _begun(self, ask: Ask) -> str:
        saved = self._saved(ask)
        if self.typed is None or not self._is_kept(ask):
            return saved
        return self.typed.value(self._kept_as(ask), saved)

    def _is_kept(self, ask: Ask) -> bool:
        saves_itself = self.saves_choices and ask.kind in CHOSEN
        return ask.kind not in SECRETS and not saves_itself

    def _saved(self, ask: Ask) -> str:
        return self.saved.get(ask.name, ask.start)

    def _kept_as(self, ask: Ask) -> str:
        is_by_name = self.is_by_name or ask.kind in CHOSEN
        return ask.name if is_by_name else self.identifier(ask)
