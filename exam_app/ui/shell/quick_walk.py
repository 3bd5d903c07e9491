"""Flet's walk over new controls, past the fields in which nothing stands.

Before a patch is sent, Flet looks through every field of every new control, some
seventy each, for controls inside: two fifths of the program's time for a tap. A field
with its declared value holds none, and Flet notes the others by name. This walk looks
at those alone; what is done with each control, and in which order, is Flet's own.
"""

import dataclasses
import functools
import inspect
import weakref
from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import Enum
from typing import Any

import flet as ft
from flet.controls import object_patch
from flet.controls.value_types import Prop
from flet.messaging import protocol

# The version whose walk this is; any other keeps its own.
FLET = "1.0.5"
FLETS_OWN = object_patch.DiffBuilder._configure_dataclass


class _Kind(Enum):
    DATACLASS = "may be a control"
    HOLDER = "holds others"
    OTHER = "plain"


def begin() -> None:
    """Let Flet walk so from now on, if it is the version this was written for."""
    if ft.__version__ == FLET:
        ours: Any = configured
        object_patch.DiffBuilder._configure_dataclass = ours  # type: ignore[method-assign]
        # Asked of every icon's and every alignment's name as it is sent, and until
        # Python 3.12 an enumeration takes long to say no.
        asked: Any = is_dataclass
        protocol.is_dataclass = asked


def is_dataclass(item: object) -> bool:
    """Do what ``dataclasses.is_dataclass`` does; a class is asked once."""
    made = item if isinstance(item, type) else type(item)
    return _kind_of(made) is _Kind.DATACLASS


def configured(
    builder: object_patch.DiffBuilder,
    item: object,
    parent: object,
    frozen: bool,
    configure_setattr_only: bool = False,
) -> Iterator[Any]:
    """Do what ``DiffBuilder._configure_dataclass`` does, and give what it gives."""
    walk = _Walk(builder.control_cls or ())
    if not configure_setattr_only:
        walk.over(item, parent, frozen=frozen)
    elif dataclasses.is_dataclass(item):
        walk.visit(item, parent, frozen=frozen, inwards=False)
    return iter(walk.found)


@dataclass(slots=True)
class _Walk:
    """One walk over something that is new on a page.

    Attributes:
        control: The class of controls, as Flet gives it.
        found: Every control met, what is around others before them.
    """

    control: Any
    found: list[Any] = field(default_factory=list)

    def over(self, value: object, parent: object, *, frozen: bool) -> None:
        """Visit what a value is or holds, if it can be or hold a control."""
        kind = _kind_of(type(value))  # type: ignore[arg-type]
        if kind is _Kind.DATACLASS:
            self.visit(value, parent, frozen=frozen, inwards=True)
        elif isinstance(value, dict):
            for inner in value.values():
                self.over(inner, parent, frozen=frozen)
        elif isinstance(value, list):
            for inner in value:
                self.over(inner, parent, frozen=frozen)

    def visit(self, item: Any, parent: Any, *, frozen: bool, inwards: bool) -> None:  # noqa: ANN401
        """Make an object known, and with it all that stands in its fields."""
        parent = _around(item, parent)
        frozen = _frozen(item, by_parent=frozen)
        if getattr(type(item), "__flet_control_cls__", None) is None:
            type(item).__flet_control_cls__ = self.control or None
        is_control = isinstance(item, self.control)
        if is_control:
            if inwards:
                _prepare(item)
            self.found.append(item)
        if inwards:
            around = item if is_control else parent
            for name in _looked_at(item):
                self.over(getattr(item, name), around, frozen=frozen)
        if not frozen:
            _begin_noting(item)


def _around(item: Any, parent: Any) -> Any:  # noqa: ANN401
    if parent is None:
        known = getattr(item, "_parent", None)
        parent = known() if known else None
    if parent:
        if parent is item:
            reason = f"Parent is the same as item: {item}"
            raise object_patch.ObjectPatchException(reason)
        item._parent = weakref.ref(parent)
    return parent


def _frozen(item: Any, *, by_parent: bool) -> bool:  # noqa: ANN401
    if hasattr(item, "_frozen"):
        return bool(item._frozen)
    if by_parent:
        item._frozen = by_parent
    return by_parent


def _prepare(item: Any) -> None:  # noqa: ANN401
    item.build()
    item._before_update_safe()
    object.__setattr__(item, "_initialized", True)


def _begin_noting(item: Any) -> None:  # noqa: ANN401
    """Let what is changed from now on be told apart."""
    changed = getattr(item, "_dirty", None)
    if changed is not None:
        changed.clear()
        return
    made: Any = type(item)
    if made.__setattr__ is not object_patch._control_setattr:
        made.__setattr__ = object_patch._control_setattr
    object.__setattr__(item, "__changes", {})


@functools.cache
def _kind_of(made: type) -> _Kind:
    if hasattr(made, "__dataclass_fields__"):
        return _Kind.DATACLASS
    return _Kind.HOLDER if issubclass(made, dict | list) else _Kind.OTHER


def _looked_at(item: Any) -> tuple[str, ...]:  # noqa: ANN401
    """Name the fields in which something may stand, as they are declared."""
    made = type(item)
    noted = item._values if _sparse(made) else ()  # type: ignore[arg-type]
    return _named(made, frozenset(noted))  # type: ignore[arg-type]


@functools.cache
def _sparse(made: type) -> frozenset[str]:
    """Name the fields that Flet notes where they have another value than declared."""
    return frozenset(name for name in _fields(made) if _is_noted(made, name))


@functools.cache
def _named(made: type, noted: frozenset[str]) -> tuple[str, ...]:
    rest = _sparse(made) - noted
    return tuple(name for name in _fields(made) if name not in rest)


def _fields(made: Any) -> list[str]:  # noqa: ANN401
    return [f.name for f in dataclasses.fields(made) if not f.metadata.get("skip")]


def _is_noted(made: type, name: str) -> bool:
    declared = inspect.getattr_static(made, name, None)
    if not isinstance(declared, Prop):
        return False
    return _kind_of(type(declared.default)) is _Kind.OTHER  # type: ignore[arg-type]
