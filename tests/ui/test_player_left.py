"""The player whose screen is left while other dots are being saved."""

from types import SimpleNamespace

from exam_app.ui.handover.player import DOTS_CHOSEN, Player
from sync.transport.frames import DotSize


async def test_dots_chosen_on_a_screen_that_was_left_are_kept_and_nothing_is_drawn():
    kept = {}
    settings = SimpleNamespace(get=kept.get, put=kept.__setitem__)

    async def save(action):
        action()

    vault = SimpleNamespace(settings=settings)
    tab = SimpleNamespace(vault=vault, save=save, way=str, is_wide=False)
    bundle = SimpleNamespace(sealed=bytes(2_000), sequence=1)
    player = Player(tab, (bundle,), ())
    await player._choose(DotSize.BIGGER.value)
    assert kept == {DOTS_CHOSEN: DotSize.BIGGER.value}
    assert not player._codes.shown
