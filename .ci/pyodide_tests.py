"""Run the tests on Python 3.14 in Pyodide, with the primitives of a browser.

Run by ``pyodide_smoke.mjs`` with the phone's own wheels and pytest's. Everything in
``tests`` but its walks and benchmarks runs as natively, except what is named below
with its reason; what is named and not found, and what is left out without being
named, is a failure. Arguments for pytest after the folders run those tests alone.
"""

import importlib
import os
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from pyodide_absent import stand_in
from pyodide_loop import derive_at_once, plain_loops

# Fewer than this, and something was not collected.
FLOOR = 6900
# Drawn examples of a test that does not ask for a number itself; natively 100.
EXAMPLES = 20

# The reason, and how the names of tests or modules begin.
LEFT_OUT: dict[str, tuple[str, ...]] = {
    "starts other programs": (
        "cli/test_command_line.py",
        "cli/test_demo_ending.py",
        "cli/test_export_commands.py",
        "register/test_register_commands.py",
        "whole_export/test_whole_export.py",
        "test_recipes.py",
        "test_repeated_walks.py",
        "test_wheel.py",
        "exchange/test_inbox_kills.py::test_a_clinic_killed_while_importing",
        "test_layers.py::test_hand_over_imports_without",
        "phone/test_memory_snapshot.py::test_no_module_of_the_app_wants",
        "store/test_store_disk_faults.py::test_app_killed_while_writing_anew_loses",
        "store/test_store_disk_faults.py::test_file_size_limit_of_the_system",
        "store/test_store_disk_faults.py::test_killed_app_loses_no",
        "store/test_store_disk_faults.py::test_second_copy_of_the_app_is_refused",
    ),
    "starts threads": (
        "language/test_every_word.py",
        "language/test_regional.py",
        "ui/test_button_sides.py",
        "ui/test_contrast.py",
        "ui/test_every_species.py",
        "ui/test_empty_lists.py",
        "ui/test_exam_zone.py",
        "ui/test_first_cursor.py",
        "ui/test_gloved_controls.py",
        "ui/test_group_refusals.py",
        "ui/test_in_process_driver.py",
        "ui/test_language_setting.py",
        "ui/test_late_addresses.py",
        "ui/test_late_taps.py",
        "ui/test_lined_up.py",
        "ui/test_mark_keys.py",
        "ui/test_photograph_sheets.py",
        "ui/test_computer_camera.py",
        "ui/test_photographs_into_folder.py",
        "ui/test_printing.py",
        "ui/test_quick_walk.py",
        "ui/test_saved_mark.py",
        "ui/test_sheet_rest.py",
        "ui/test_still_button.py",
        "ui/test_written_beside.py",
        "ui/test_round_entry.py",
        "ui/test_round_thumb.py",
        "ui/test_round_weight.py",
        "ui/test_settings_groups.py",
        "ui/test_words_first.py",
        "ui/test_words_fit.py",
        "app/test_language_choice.py",
        "cli/test_erasure_commands.py::test_receive_says_that_erased",
        "exchange/test_inbox_commands.py::test_a_field_device_receives_nothing",
        "exchange/test_inbox_commands.py::test_verify_says_that_the_signing_device",
        "exchange/test_inbox_commands.py::test_while_the_store_is_held_bundles_wait",
        "exchange/test_inbox_kills.py::test_two_imports_at_once",
        "app/test_stored_exams.py::test_lock_comes_at_once",
        "app/test_stored_exams.py::test_second_step_is_refused",
        "store/test_store_repositories.py::test_reader_in_another_thread",
        "store/test_store_repositories.py::test_readers_beside_the_writer",
        "store/test_store_upkeep.py::test_save_while_the_files_are_written_anew",
        "store/test_store_upkeep.py::test_save_while_the_vault_is_closed",
    ),
    "asks the system for limits and for a user without rights": (
        "store/test_store_read_only.py",
    ),
    "makes a pipe, as a system's folder holds": (
        "exchange/test_inbox_commands.py::test_every_file_that_is_not_taken",
    ),
    "builds and serves the phone's app, which a computer does": (
        "phone/test_measured_phone.py",
        "phone/test_phone_build.py",
        "phone/test_phone_serving.py",
        "phone/test_phone_native.py",
        "phone/test_phone_trust.py",
    ),
    "imitates a browser's files where there is none": (
        "phone/test_phone_files.py::test_a_flush_that_fails",
        "phone/test_phone_files.py::test_a_full_quota",
        "phone/test_phone_files.py::test_vault_is_made_closed_and_opened",
        "phone/test_phone_moving.py::test_a_device_that_is_full_anywhere",
        "phone/test_phone_moving.py::test_a_phones_backup_restored_under",
    ),
    "imports all of the interface, the computer's server too": (
        "ui/test_ui_reprs.py::test_no_class_that_holds",
        "ui/test_ui_reprs.py::test_screens_that_hold_a_tab",
    ),
    "serves the page, which a computer does": (
        "ui/test_guard.py",
        "ui/test_local_server.py",
        "ui/test_late_messages.py",
        "ui/test_page_messages.py",
    ),
    "reads codes in pictures, as a clinic's computer does": (
        "paper/test_kennel_sheet.py",
        "phone/test_phone_codes.py",
        "sync/test_sync_qr.py",
        "app/test_clinic_words.py::test_a_code_is_read_out_of_a_photo",
        "app/test_clinic_words.py::test_a_file_that_is_no_picture",
        "app/test_clinic_words.py::test_codes_are_read_out_of_a_film",
        "app/test_clinic_words.py::test_nothing_is_missing",
        "app/test_clinic_words.py::test_what_is_missing",
        "app/test_clinic_words.py::test_without_the_part_that_reads_codes",
    ),
    "asks what is said where no browser is": (
        "paper/test_fonts.py::test_without_assets_and_browser",
    ),
    "prepares pictures, as a computer does": ("app/test_photograph_prepared.py",),
    "needs a disk with pipes, sockets, sparse files and names of any bytes": (
        "app/test_animal_import.py::test_a_file_of_a_gigabyte",
        "sync/test_sync_folder.py::test_links_pipes_sockets",
        "sync/test_sync_folder.py::test_name_that_is_no_text",
        "sync/test_sync_folder.py::test_oversized_file",
    ),
}

OPTIONS = (
    "-q",
    "-p",
    "no:cacheprovider",
    "-p",
    "no:faulthandler",
    "--capture=sys",
    "--durations=15",
)


class Choice:
    """Leaves out what is named, and counts what happens to the rest."""

    def __init__(self) -> None:
        self.passed = 0
        self.left_out: Counter[str] = Counter()
        self.unforeseen: list[str] = []
        self.unused = {name for names in LEFT_OUT.values() for name in names}

    def modules(self) -> list[str]:
        """Name those that are imported; counts the others."""
        chosen = []
        for path in sorted(Path("tests").rglob("test_*.py")):
            name = path.relative_to("tests").as_posix()
            if name.startswith(("browser/", "benchmarks/")):
                continue
            reason = self.reason_for(name)
            if reason:
                self.left_out[f"{reason}: the whole of {name}"] += 1
            else:
                chosen.append(str(path))
        return chosen

    def pytest_configure(self) -> None:
        # After conftest.py, and not before pytest itself has met the library.
        hypothesis = importlib.import_module("hypothesis")
        hypothesis.settings.register_profile(
            "phone",
            deadline=None,
            derandomize=True,
            max_examples=EXAMPLES,
            suppress_health_check=[hypothesis.HealthCheck.too_slow],
        )
        hypothesis.settings.load_profile("phone")

    def reason_for(self, name: str) -> str:
        for reason, names in LEFT_OUT.items():
            for start in names:
                if name.startswith(start):
                    self.unused.discard(start)
                    return reason
        return ""

    @pytest.hookimpl(trylast=True)  # after those that only the exhaustive run asks for
    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        kept = []
        for item in items:
            reason = self.reason_for(item.nodeid.removeprefix("tests/"))
            if reason:
                self.left_out[reason] += 1
            else:
                kept.append(item)
        items[:] = kept

    def pytest_runtest_logreport(self, report: Any) -> None:  # noqa: ANN401
        self.passed += report.when == "call" and report.passed
        if not report.skipped:
            return
        reason = str(report.longrepr[2]).removeprefix("Skipped: ")
        self.left_out[reason] += 1
        if not reason.startswith("needs "):
            self.unforeseen.append(f"{report.nodeid}: {reason}")

    def pytest_collectreport(self, report: Any) -> None:  # noqa: ANN401
        if report.skipped:
            self.unforeseen.append(f"{report.nodeid}: {report.longrepr[2]}")


async def run(repository: Path, _exchange: Path) -> bool:
    """Say how many passed and what was left out; True when all is as it should be."""
    stand_in()
    derive_at_once()
    os.chdir(repository)
    asked = sys.argv[1:]
    is_whole = not any(one.startswith("tests/") for one in asked)
    choice = Choice()
    modules = choice.modules() if is_whole else []
    with plain_loops():
        code = pytest.main([*OPTIONS, *asked, *modules], plugins=[choice])
    for reason, count in sorted(choice.left_out.items()):
        sys.stdout.write(f"  left out {count:4}  {reason}\n")
    for line in choice.unforeseen:
        sys.stdout.write(f"  not foreseen: {line}\n")
    for name in sorted(choice.unused) if is_whole else ():
        sys.stdout.write(f"  named, but not there: {name}\n")
    sys.stdout.write(
        f"In Pyodide {choice.passed} tests pass, of at least "
        f"{FLOOR if is_whole else 1}; "
        f"{sum(choice.left_out.values())} tests and modules are left out\n"
    )
    good = int(code) == 0 and not choice.unforeseen
    return good and (not is_whole or (choice.passed >= FLOOR and not choice.unused))
