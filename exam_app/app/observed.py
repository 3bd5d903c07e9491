"""Values that tell who draws them when they have changed."""

import weakref
from collections.abc import Callable
from typing import Any

Listener = Callable[[Any, str | None], None]


class Observed:
    """Calls its listeners after a field has become another value.

    Listeners are held weakly: what draws keeps them, and they end with it.
    """

    def subscribe(self, listener: Listener) -> None:
        """Call a listener with this object and the field's name from now on."""
        self.__dict__.setdefault("_listeners", weakref.WeakSet()).add(listener)

    def __setattr__(self, name: str, value: object) -> None:
        """Set a field; a value equal to the one before calls nobody."""
        is_same = name in self.__dict__ and self.__dict__[name] == value
        object.__setattr__(self, name, value)
        if not is_same:
            for listener in list(self.__dict__.get("_listeners", ())):
                listener(self, name)
