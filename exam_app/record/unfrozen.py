"""Frozen values put together at the price of ordinary ones.

A frozen dataclass sets each of its fields by a call of its own. A reader, which makes a
hundred values an exam, spent more on those calls than on all it checks. So it makes a
value as its unfrozen twin, of the same slots, and gives it its own class once it is
whole, before anybody else sees it::

    made = twin()
    made.utc_ms, made.offset_min = 0, 60
    made.__class__ = Moment
"""

from collections.abc import Callable, Collection
from dataclasses import MISSING, field, fields, make_dataclass
from typing import Any


def unfrozen_twin(kind: Any, optional: Collection[str] = ()) -> Callable[[], Any]:  # noqa: ANN401
    """Return a class of the same slots as a frozen dataclass, its fields assignable.

    Made without arguments, it has the defaults; a field without one is not set yet.

    Args:
        kind: A dataclass with slots; whoever gives it to what was made calls its
            ``__post_init__``.
        optional: Fields without a default that are None until they are set.
    """
    specs, has_defaults = [], False
    for own in fields(kind):
        default = None if own.name in optional else own.default
        factory: Any = own.default_factory
        spec: Any = field(default=default, default_factory=factory, init=False)
        specs.append((own.name, object, spec))
        has_defaults |= default is not MISSING or factory is not MISSING
    return make_dataclass(
        f"Unfrozen{kind.__name__}",
        specs,
        init=has_defaults,
        eq=False,
        repr=False,
        slots=True,
    )
