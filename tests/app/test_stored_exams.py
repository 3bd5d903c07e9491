"""Looking after the stored exams: what is said, and one long step at a time."""

import asyncio
from datetime import UTC, datetime
from pathlib import Path
from threading import Event

import pytest

from exam_app.app.exam_sessions import now
from exam_app.app.maintenance import stored_exams
from exam_app.app.maintenance.first_start import SetUp
from exam_app.app.maintenance.store_steps import UNFORESEEN, StepUnderWayError
from exam_app.app.session import LockState, Session, SessionLockedError
from exam_app.domain.exam.people import Person, Role
from exam_app.store.engine.files import LocalFile
from exam_app.store.engine.journal import Journal
from exam_app.store.errors import VaultClosedError, VaultFullError
from exam_app.store.repositories.rows import ClosedExam
from tests.store_disks import CHEAP, TEST_BOUNDS, on_writing_anew

AT = datetime(2026, 11, 25, 9, 30, 5, tzinfo=UTC)
ROWAN = Person("a" * 32, "Alex Rowan", Role.TECHNICIAN)


@pytest.fixture
async def session(tmp_path):
    (tmp_path / "exams").mkdir()
    made = Session(tmp_path / "exams", CHEAP, TEST_BOUNDS)
    await made.set_up(SetUp("field", "Demo", "555 0123", "hoof", ROWAN, ""))
    for number in range(3):
        row = ClosedExam(
            exam_id=f"c{number}",
            animal_id="a1",
            name=f"Demo {number}",
            record_hash=f"h{number}",
        )
        made.vault.closed.put(row, b"signed %d" % number * 200)
    yield made
    made.close()


def silent(_done, _whole):
    pass


def test_sizes_are_written_for_people():
    assert stored_exams.size_words(0) == "1 kB"
    assert stored_exams.size_words(262_144) == "262 kB"
    assert stored_exams.size_words(3_456_000) == "3.5 MB"
    assert stored_exams.size_words(2_345_000_000) == "2.3 GB"


async def test_what_is_kept_is_counted_and_what_was_not_handed_over(session):
    told = dict(stored_exams.facts(session.vault))
    assert told["Exams"] == "3 exams closed, 0 exams open"
    assert told["Last backup made here"] == "None"
    assert told["Not handed over"].startswith("3 exams are not handed over")


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "Write where"),
        ("sticks/one", "from its beginning"),
        ("{root}/missing/one", "no such folder"),
        ("{root}/exams", "folder of the exams themselves"),
        ("{root}/other/../exams", "folder of the exams themselves"),
    ],
)
def test_backup_is_refused_where_it_would_not_help(tmp_path, typed, said):
    for name in ("exams", "other"):
        (tmp_path / name).mkdir()
    with pytest.raises(stored_exams.BackupPlaceError) as refusal:
        stored_exams.backup_path(typed.format(root=tmp_path), AT, tmp_path / "exams")
    assert said in refusal.value.advice


def test_backup_in_a_folder_is_named_by_its_time(tmp_path):
    path = stored_exams.backup_path(f" {tmp_path} ", AT, tmp_path / "exams")
    assert path == tmp_path / "exams-2026-11-25-093005.backup"
    named = str(tmp_path / "mine.backup")
    assert stored_exams.backup_path(named, AT, Path("/nowhere")) == Path(named)


async def test_backup_says_where_it_is_and_is_remembered(session, tmp_path):
    path = tmp_path / "one.backup"
    said = stored_exams.back_up_to(session.vault, path, now(), silent)
    assert "made and read back" in said
    assert str(path) in said
    assert str(path) in dict(stored_exams.facts(session.vault))["Last backup made here"]
    content = stored_exams.back_up_bytes(session.vault, now(), silent)
    assert content.startswith(b"exam-vault bkup")
    assert (
        "not known" in dict(stored_exams.facts(session.vault))["Last backup made here"]
    )


async def test_making_room_says_what_it_gave_or_that_there_was_nothing(session):
    assert "Nothing was there" in stored_exams.make_room(session.vault, silent)
    for turn in range(50):
        session.vault.settings.put("turn", f"{turn}" * 400)
    assert "before it was" in stored_exams.make_room(session.vault, silent)


async def test_check_names_the_exam_whose_bytes_were_changed(session, tmp_path):
    assert "is whole" in stored_exams.check(session.vault, silent)
    where = session.vault._storage.entry("closed", "c1")[1]
    journal = session.vault._storage.journal()
    sealed, _ = journal.read_sealed(where)
    file = journal.file
    everything = file.read_at(0, file.size())
    at = everything.index(sealed)
    LocalFile.write_at(file, at, bytes([sealed[0] ^ 1]))
    with pytest.raises(stored_exams.DamageFoundError) as found:
        stored_exams.check(session.vault, silent)
    assert "the closed exam of Demo 1." in found.value.advice
    assert "Demo 2" not in found.value.advice


async def test_second_step_is_refused_while_one_is_under_way(session):
    may_end = Event()

    def slow(progress):
        progress(1, 4)
        assert may_end.wait(10)
        return "done"

    task = session.steps.begin("Checking", slow)
    work = session.steps.last
    try:
        while not work.done:
            await asyncio.sleep(0.001)
        assert work.share == 0.25
        assert "25 of 100" in work.words
        with pytest.raises(StepUnderWayError):
            session.steps.begin("Making room", slow)
        assert not session.is_idle()
    finally:
        may_end.set()
        await task
    assert not session.steps.is_busy
    assert (work.said, work.is_good) == ("done", True)


async def test_refused_and_unforeseen_ends_say_what_is_safe(session):
    for error, said in (
        (VaultFullError("full"), VaultFullError.advice),
        (ValueError("odd"), UNFORESEEN),
    ):

        def step(_progress, error=error):
            raise error

        await session.steps.begin("Making room", step)
        work = session.steps.last
        assert (work.is_good, work.said) == (False, said)
    await session.steps.begin("Making room", lambda _told: "smaller")
    assert session.steps.last.is_good


async def test_lock_comes_at_once_though_the_files_are_written_anew(
    session, monkeypatch
):
    may_end = Event()
    on_writing_anew(session.vault, monkeypatch, lambda: may_end.wait(10))
    session.seal()
    assert session.state is LockState.SEALED
    with pytest.raises(SessionLockedError):
        session.vault.settings.get("practice")
    opening = asyncio.create_task(session.open_with_passphrase("hoof"))
    try:
        # Long enough for one that does not wait to find the store held.
        done, _ = await asyncio.wait([opening], timeout=0.1)
        assert not done
    finally:
        may_end.set()
    await opening
    assert session.vault.settings.get("practice") == "Demo"
    assert session.vault.closed.count() == 3


async def test_end_of_the_run_waits_until_the_files_are_closed(session, monkeypatch):
    vault = session.vault
    monkeypatch.setattr(Journal, "is_due", lambda _journal: True)
    session.close()
    with pytest.raises(VaultClosedError):
        vault.size()
