"""What a tap would have to wait for is loaded before anybody taps."""

import asyncio

from exam_app.protocols.loader import available, load_protocol
from exam_app.ui.shell.routes import load_screens_gently


async def test_every_species_is_loaded_with_room_for_taps_between_two_of_them():
    load_protocol.cache_clear()
    loading = asyncio.create_task(load_screens_gently(0, 0))
    seen = {0}
    while not loading.done():
        seen.add(load_protocol.cache_info().currsize)
        await asyncio.sleep(0)
    await loading
    assert seen | {len(available())} == set(range(len(available()) + 1))
