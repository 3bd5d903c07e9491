"""What the person sees when the store is damaged or the disk is full."""

from tests.browser.prepared import PASSPHRASE, prepare_folder, unlock


def open_damaged(driver, app):
    driver.open(app.first_address())
    driver.type("unlock-secret", PASSPHRASE)
    driver.click("unlock-open")


def journal_of(folder):
    """The journal that counts: the other one is empty."""
    return max(folder / "vault.a", folder / "vault.b", key=lambda p: p.stat().st_size)


def test_wrong_passphrase_says_that_nothing_was_changed(phone, prepared):
    phone.open(prepared.first_address())
    phone.type("unlock-secret", "not this one")
    phone.click("unlock-open")
    phone.wait_text("unlock-problem", "does not open these exams")
    phone.wait_text("unlock-problem", "Nothing was changed")
    phone.wait_text("unlock-problem", "recovery code")
    phone.shot("damage-wrong-passphrase-phone")


def test_torn_tail_is_repaired_and_told_until_it_was_read(phone, tmp_path, run_app):
    folder = prepare_folder(tmp_path / "exams")
    with journal_of(folder).open("ab") as file:
        file.write(b"half a save" * 20)
    app = run_app(folder=folder)
    open_damaged(phone, app)
    phone.wait_text("refusal", "Damage was found")
    phone.wait_text("refusal", "in the middle of a save")
    phone.wait_text("refusal", "Everything saved before is kept")
    phone.wait_text("refusal", "Check the last exam")
    phone.shot("damage-torn-phone")
    # Only left, not read: it is told again after the next start.
    phone.press("Escape")
    phone.gone("refusal")
    app.stop()
    app = run_app(folder=folder)
    open_damaged(phone, app)
    phone.wait_text("refusal", "in the middle of a save")
    phone.click("refusal-close")
    phone.gone("refusal")
    phone.wait_text("saved", "Saved")
    app.stop()
    unlock(phone, run_app(folder=folder))
    assert not phone.has("refusal")


def test_altered_save_is_refused_with_the_next_step(phone, tmp_path, run_app):
    folder = prepare_folder(tmp_path / "exams")
    journal = journal_of(folder)
    content = bytearray(journal.read_bytes())
    content[len(content) // 2] ^= 1
    journal.write_bytes(content)
    open_damaged(phone, run_app(folder=folder))
    phone.wait_text("unlock-problem", "changed after it was kept")
    phone.wait_text("unlock-problem", "Nothing was written")
    phone.wait_text("unlock-problem", "exam-app restore")
    phone.shot("damage-altered-phone")
    assert journal.read_bytes() == bytes(content)


def test_saves_that_are_missing_are_counted(phone, tmp_path, run_app):
    folder = prepare_folder(tmp_path / "exams")
    journal = journal_of(folder)
    journal.write_bytes(journal.read_bytes()[:-3])
    open_damaged(phone, run_app(folder=folder))
    phone.wait_text("refusal", "The last save is missing")
    phone.wait_text("refusal", "Everything before is whole")
    phone.shot("damage-missing-phone")


def rename_practice(driver, name):
    driver.type("settings-practice", name)
    driver.click("settings-save")


def test_full_disk_is_told_and_nothing_is_called_saved(
    phone, tmp_path, run_app, monkeypatch
):
    switch = tmp_path / "switch"
    monkeypatch.setenv("TEST_FULL_DISK", str(switch))
    unlock(phone, run_app(folder=prepare_folder(tmp_path / "exams")))
    phone.go("/settings/practice")
    phone.wait("settings-practice")
    switch.write_text("always")
    rename_practice(phone, "Valley practice")
    phone.wait_text("refusal", "The device is full")
    phone.wait_text("refusal", "everything before it is")
    phone.shot("disk-full-phone")
    phone.click("refusal-close")
    phone.gone("refusal")
    phone.wait_text("saved", "Not saved")
    switch.unlink()
    rename_practice(phone, "Valley practice")
    # The room kept for this was given up at the first try.
    phone.wait_text("refusal", "small space kept for this")
    phone.click("refusal-close")
    phone.wait_text("saved", "Saved")


def test_nearly_full_disk_saves_in_the_reserve_and_says_so(
    phone, tmp_path, run_app, monkeypatch
):
    switch = tmp_path / "switch"
    monkeypatch.setenv("TEST_FULL_DISK", str(switch))
    unlock(phone, run_app(folder=prepare_folder(tmp_path / "exams")))
    phone.go("/settings/practice")
    phone.wait("settings-practice")
    switch.write_text("once")
    rename_practice(phone, "Valley practice")
    phone.wait_text("refusal", "small space kept for this")
    phone.shot("disk-reserve-phone")
    phone.click("refusal-close")
    phone.wait_text("saved", "Saved")


def test_cut_off_restoration_is_named_and_can_be_begun_again(phone, tmp_path, run_app):
    folder = prepare_folder(tmp_path / "exams")
    (folder / "vault.head").write_bytes(b"exam-vault begun\n" + bytes(5000))
    phone.open(run_app(folder=folder).first_address())
    phone.wait_text("setup-cut-off", "was cut off in this place")
    phone.wait_text("setup-cut-off", "Restore the backup into this place again")
    phone.shot("damage-cut-off-phone")
    phone.click("setup-restore")
    phone.wait("restore-pick")
