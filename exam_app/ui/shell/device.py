"""What the device itself does beside showing: stay lit, shake. Neither is relied on."""

import asyncio
import contextlib
from collections.abc import AsyncIterator

import flet as ft

from exam_app.ui.shell.page_controller import Tab


async def shake(tab: Tab) -> None:
    """Let the device shake once, where it can; nobody has to feel it."""
    haptic = ft.HapticFeedback()
    tab.page.services.append(haptic)
    with contextlib.suppress(Exception):
        tab.page.update()
        await asyncio.wait_for(haptic.vibrate(), 1)  # type: ignore[no-untyped-call]
    with contextlib.suppress(ValueError):
        tab.page.services.remove(haptic)


@contextlib.asynccontextmanager
async def awake(tab: Tab) -> AsyncIterator[None]:
    """Keep the device's screen lit, where the device allows it."""
    lock = ft.Wakelock()
    tab.page.services.append(lock)
    tab.page.update()
    with contextlib.suppress(Exception):
        await asyncio.wait_for(lock.enable(), 1)  # type: ignore[no-untyped-call]
    try:
        yield
    finally:
        with contextlib.suppress(Exception):
            await asyncio.wait_for(lock.disable(), 1)  # type: ignore[no-untyped-call]
        with contextlib.suppress(ValueError):
            tab.page.services.remove(lock)
