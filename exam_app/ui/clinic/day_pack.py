"""Make a day pack for one device, into the folder or as a file."""

from pathlib import Path

import flet as ft

from exam_app.app.clinic.shared_folder import folder_of, put_for_device
from exam_app.app.exam_sessions import now
from exam_app.app.queries import day_plan
from exam_app.app.queries.clinic_records import LOOKED_THROUGH, paired_devices
from exam_app.app.view.clinic_day_pack_presenter import (
    LABELS,
    WHAT_GOES,
    Choice,
    animals_of,
    animals_words,
    made_words,
)
from exam_app.crypto.door import random_bytes
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.pairings import Device
from exam_app.exchange.photographs import photographs_for
from exam_app.exchange.returns import left_out, make_day_pack
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow, ToggleRow
from exam_app.ui.widgets.code_out import saved
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.list_lines import nothing_yet
from exam_app.ui.widgets.notices import banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side, stack
from sync.bundle.bundle import SealedBundle
from sync.transport.folder import Ending

_FOUND_AT_ONCE = 12
_NO_DEVICE = to_translate(
    "No device is paired yet. Those that are will stand here, to be given what the "
    "clinic knows of their animals."
)


async def build(tab: Tab) -> Screen:
    """Build the choice of device and animals."""
    devices = await tab.session.read(lambda: paired_devices(tab.vault))
    if not devices:
        pair, sign = tab.way("/clinic/pair"), ft.Icons.ADD_LINK
        body: list[ft.Control] = [
            nothing_yet(
                tr(_NO_DEVICE),
                button("clinic-pack-pair", tr("Pair a device"), pair, icon=sign),
            )
        ]
        return Screen(title=tr("Day pack to a device"), back="/", body=body)
    pack, icon = _Pack(tab, devices), ft.Icons.BACKPACK_OUTLINED
    label = tr("Make the day pack")
    make = button("clinic-pack-write", label, pack.make, icon=icon, kind="main")
    return Screen(
        title=tr("Day pack to a device"),
        subtitle=tab.vault.settings.get("practice", ""),
        back="/",
        body=[
            pack.done.control,
            paragraph(tr(WHAT_GOES)),
            section(tr("For which device?"), pack.device.control),
            section(tr("Which animals?"), pack.what.control, pack.animals.control),
        ],
        bottom=[make],
    )


class _Pack:
    """What is chosen on the screen, and the pack that was made."""

    def __init__(self, tab: Tab, devices: list[Device]) -> None:
        self.tab = tab
        self.names = {one.device_id: one.name for one in devices}
        self.rows = tab.vault.closed.latest(LOOKED_THROUGH)
        self.chosen = _planned(tab)
        self.made: SealedBundle | None = None
        self.where, self.left_out = "", 0
        only = next(iter(self.names)) if len(self.names) == 1 else None
        what = (Choice.CHOSEN if self.chosen else Choice.OF_DEVICE).value
        devices_named = tuple(self.names.items())
        labels = [(key, tr(label)) for key, label in LABELS]
        self.device = ChoiceRow(
            "clinic-pack-device", devices_named, self._changed, only, size="usual"
        )
        self.what = ChoiceRow(
            "clinic-pack-what", labels, self._changed, what, size="usual"
        )
        self.search = text_field(
            for_choice("clinic-pack-animal", "search"),
            tr("Name, tag, chip or owner"),
            on_submit=self._look,
        )
        self.animals = Slot(self._draw_animals)
        self.done = Slot(self._draw_done)

    async def make(self) -> None:
        """Seal the pack and put it into the folder, where there is one."""
        tab, device_id = self.tab, self.device.chosen
        if device_id is None:
            tab.tell(tr("Choose for which device it is."))
            return
        vault, animals, path = tab.vault, self._animals(), folder_of(tab.vault)
        source = Exchange(vault)

        def sealed() -> SealedBundle:
            pack = make_day_pack(source, device_id, animals, now(), random_bytes)
            if path:
                ending = Ending.DAY_PACK
                put_for_device(vault, Path(path), device_id, pack.sealed, ending)
                for one in photographs_for(source, device_id, animals):
                    ending = Ending.PHOTOGRAPH
                    put_for_device(vault, Path(path), device_id, one, ending)
            return pack

        self.made = await tab.save(sealed)
        self.where, self.left_out = path, left_out(source, animals)
        self.done.refresh()

    async def _changed(self, _: str) -> None:
        self.made = None
        self.animals.refresh()
        self.done.refresh()

    async def _look(self) -> None:
        self.animals.refresh()

    def _animals(self) -> tuple[str, ...]:
        choice = Choice(self.what.chosen or Choice.NONE.value)
        ids = tuple(self.chosen)
        return animals_of(choice, self.rows, self.device.chosen or "", ids)

    def _draw_animals(self) -> ft.Control:
        is_listed = self.what.chosen == Choice.CHOSEN.value
        listed = self._choosing() if is_listed else []
        return stack(*listed, quiet(animals_words(len(self._animals()))))

    def _choosing(self) -> list[ft.Control]:
        find = button(for_choice("clinic-pack-animal", "find"), tr("Find"), self._look)
        found = self.tab.vault.animals.search(self.search.value, _FOUND_AT_ONCE)
        names = {a.animal_id: a.name or tr("Unnamed") for a in found}
        options = tuple({**self.chosen, **names}.items())

        async def toggled(keys: tuple[str, ...]) -> None:
            self.chosen = {key: name for key, name in options if key in keys}
            self.animals.refresh()

        row = ToggleRow("clinic-pack-animal", options, toggled, tuple(self.chosen))
        return [self.search.control, side_by_side(find), row.control]

    def _draw_done(self) -> ft.Control:
        made = self.made
        if made is None:
            return ft.Container()

        file = f"{made.bundle_hash[:16]}{Ending.DAY_PACK}"
        save = saved(self.tab, file, made.sealed)
        device = self.names.get(self.device.chosen or "", tr("the device"))
        words = made_words(device, self.where, len(made.sealed), self.left_out)
        box = banner("clinic-pack-done", words)
        name = for_choice("clinic-pack-done", "file")
        action = button(name, tr("Save as a file"), save)
        return stack(box, side_by_side(action))


def _planned(tab: Tab) -> dict[str, str]:
    """Return the animals of today's plan on this computer, by id."""
    known = (
        (key, tab.vault.animals.shown(key)) for key in day_plan.planned(tab.session)
    )
    return {key: a.name or tr("Unnamed") for key, a in known if a}
