"""The first module of a build that shows the screens and tells how long it took."""

import sys
import time
from collections.abc import Callable
from typing import Any


def told(owner: Any, name: str, word: str) -> None:
    """Let a coroutine function tell its milliseconds on the console."""
    plain = getattr(owner, name)

    async def timed(*given: Any, **named: Any) -> Any:
        begun = time.perf_counter()
        result = await plain(*given, **named)
        sys.stdout.write(f"TOOK {word} {(time.perf_counter() - begun) * 1000:.2f}\n")
        return result

    setattr(owner, name, timed)


def begin(fill: Callable[[Any], object]) -> None:
    """Time the store's saves and its key derivation, then start the app.

    Args:
        fill: Puts something into the store that set-up has made.
    """
    from exam_app.app.exam_sessions import VaultDraft
    from exam_app.app.session import Session
    from exam_app.store.engine import keys as key_slots
    from exam_app.ui.server.phone_page import start

    told(VaultDraft, "put", "save")
    told(key_slots, "derive_key", "derive")
    plain = Session.set_up

    async def set_up(session: Session, answers: Any) -> str:
        code = await plain(session, answers)
        fill(session.vault)
        return code

    Session.set_up = set_up
    start()
