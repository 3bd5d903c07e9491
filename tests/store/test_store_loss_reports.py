"""A loss is told until a person has read it in the app; no command takes it away."""

import asyncio
import errno
import io
import sys

import pytest

from exam_app.__main__ import Costs, main
from exam_app.app.maintenance import stored_exams
from exam_app.store.vault.folder import create_vault
from exam_app.store.vault.open import OTHER_COPY, TORN, open_vault, saves_missing
from exam_app.store.vault.restore import Secrets, restore_vault, salvage_vault
from tests.store_disks import (
    CHEAP,
    TEST_BOUNDS,
    FaultyDisk,
    MemoryFile,
    fill_folder,
    folder_bytes,
)

SECRETS = Secrets("hoof", "hoof", CHEAP, TEST_BOUNDS)
COSTS = Costs(CHEAP, TEST_BOUNDS)


async def opened(folder, opener=None):
    given = {"opener": opener} if opener else {}
    return await open_vault(folder, "hoof", bounds=TEST_BOUNDS, **given)


async def filled(folder):
    vault, _ = await create_vault(folder, "hoof", CHEAP, bounds=TEST_BOUNDS)
    with vault.transaction():
        vault.settings.put("role", "clinic")
        vault.settings.put("device_id", "f" * 32)
        vault.settings.put("signing_key", bytes(range(32)))
        vault.settings.put("agreement_key", bytes(range(32, 64)))
    return vault


async def lost_saves(folder):
    """A store whose last three saves are gone, as from an older copy of the file."""
    vault = await filled(folder)
    older = (folder / "vault.a").read_bytes()
    for turn in range(3):
        vault.settings.put("turn", turn)
    vault.close()
    (folder / "vault.a").write_bytes(older)
    return folder


async def torn(folder):
    (await filled(folder)).close()
    with (folder / "vault.a").open("ab") as file:
        file.write(b"half a save")
    return folder


async def other_copy(folder):
    vault = await filled(folder)
    vault.close()
    before = folder_bytes(folder)
    for theme in ("dark", "light"):
        fill_folder(folder, before)
        vault = await opened(folder)
        vault.settings.put("theme", theme)
        vault.close()
        if theme == "dark":
            head = (folder / "vault.head").read_bytes()
    (folder / "vault.head").write_bytes(head)
    return folder


DAMAGES = {
    lost_saves: saves_missing(3),
    torn: TORN,
    other_copy: OTHER_COPY,
}


@pytest.mark.parametrize("damage", DAMAGES)
async def test_loss_is_told_at_every_opening_until_it_was_read(tmp_path, damage):
    folder, said = await damage(tmp_path / "v"), DAMAGES[damage]
    for turn in range(3):
        vault = await opened(folder)
        assert vault.damage_report == said
        # Work goes on meanwhile, past the numbers of the saves that are gone.
        for number in range(4):
            vault.settings.put("work", [turn, number])
        vault.close()
    vault = await opened(folder)
    vault.acknowledge_damage("Alex Rowan", "2026-11-28 09:30")
    assert vault.damage_report is None
    vault.close()
    vault = await opened(folder)
    assert vault.damage_report is None
    (read,) = vault.losses.read()
    assert (read.sentence, read.read_by) == (said, "Alex Rowan")
    assert "Alex Rowan" in dict(stored_exams.facts(vault))["Damage read about earlier"]
    vault.close()


async def test_second_loss_is_told_beside_the_first(tmp_path):
    folder = await lost_saves(tmp_path / "v")
    (await opened(folder)).close()
    older = (folder / "vault.a").read_bytes()
    vault = await opened(folder)
    vault.settings.put("turn", 9)
    vault.close()
    (folder / "vault.a").write_bytes(older)
    vault = await opened(folder)
    assert vault.damage_report == f"{saves_missing(3)} {saves_missing(1)}"
    vault.close()


async def test_loss_that_finds_no_room_is_found_again_at_the_next_opening(tmp_path):
    folder = await lost_saves(tmp_path / "v")
    head = (folder / "vault.head").read_bytes()
    for _ in range(2):
        disk = FaultyDisk(fail_at=0, error=errno.EIO)
        vault = await opened(folder, disk.open)
        assert vault.damage_report == saves_missing(3)
        vault.close()
        assert (folder / "vault.head").read_bytes() == head
    vault = await opened(folder)
    assert vault.damage_report == saves_missing(3)
    vault.close()


async def test_crash_behind_the_kept_report_tells_the_loss_once(tmp_path):
    folder = await lost_saves(tmp_path / "v")
    head = (folder / "vault.head").read_bytes()
    (await opened(folder)).close()
    # The report was saved, the mark was not.
    (folder / "vault.head").write_bytes(head)
    vault = await opened(folder)
    assert vault.damage_report == saves_missing(3)
    vault.close()


async def test_backup_and_its_restoration_carry_a_report_that_nobody_read(tmp_path):
    folder = await lost_saves(tmp_path / "v")
    vault = await opened(folder)
    backup = MemoryFile()
    vault.back_up(backup)
    vault.close()
    again, _ = await restore_vault(backup, tmp_path / "new", SECRETS)
    again.close()
    again = await opened(tmp_path / "new")
    assert again.damage_report == saves_missing(3)
    again.close()


async def test_what_a_salvage_lost_is_told_in_the_app_too(tmp_path):
    folder = await lost_saves(tmp_path / "v")
    vault, _, found = await salvage_vault(folder, tmp_path / "new", SECRETS)
    vault.close()
    vault = await opened(tmp_path / "new")
    assert vault.damage_report == found.losses
    assert "3 parts of the file" in found.sentence
    vault.close()
    whole = await filled(tmp_path / "whole")
    whole.close()
    vault, _, found = await salvage_vault(tmp_path / "whole", tmp_path / "x", SECRETS)
    assert vault.damage_report is None
    vault.close()


def run(monkeypatch, *arguments):
    monkeypatch.setattr(sys, "stdin", io.StringIO("hoof\n"))
    return main([str(argument) for argument in arguments], COSTS)


def test_commands_print_the_loss_and_leave_it_for_the_app(
    tmp_path, monkeypatch, capsys
):
    folder = asyncio.run(lost_saves(tmp_path / "v"))
    file = tmp_path / "some.file"
    file.write_bytes(b"nothing signed")
    commands = (
        ("backup", tmp_path / "one.backup", "--data", folder),
        ("verify", file, "--data", folder),
        ("receive", file, "--data", folder),
        ("backup", tmp_path / "two.backup", "--data", folder),
    )
    for command in commands:
        run(monkeypatch, *command)
        said = capsys.readouterr().err
        assert "The last 3 saves are missing" in said, command
        assert "again until it was read in the app" in said

    async def in_the_app():
        vault = await opened(folder)
        assert vault.damage_report == saves_missing(3)
        vault.close()

    asyncio.run(in_the_app())
    run(monkeypatch, "salvage", folder, "--data", tmp_path / "new")
    said = capsys.readouterr().out
    assert "Nothing more is missing" in said
    assert "Found earlier: The last 3 saves are missing" in said
