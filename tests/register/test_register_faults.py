"""Whatever breaks, nothing is lost, nothing is double, no receipt comes too early."""

import contextlib
import os
import signal
import subprocess
import tempfile
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest

from exam_app.crypto import door
from exam_app.domain.moments import Moment
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.inbox import receive
from exam_app.register import connection as connections
from exam_app.register.errors import RegisterLostError, RegisterRefusedError
from exam_app.register.queue import SpoolQueue
from exam_app.register.register_vault import open_register
from exam_app.register.worker import Worker
from exam_app.store.errors import (
    UnstorableValueError,
    VaultError,
    VaultFullError,
)
from sync.bundle.contents import Contents
from sync.receipts import Outcome
from tests import register_places, register_server
from tests.exam_samples import TECHNICIAN
from tests.handover_places import (
    LATER,
    animal,
    new_register_place,
    pair,
    paired_places,
    small_exam,
)
from tests.register_faults import (
    Cutter,
    check_whole,
    days_of,
    finish,
    forked,
    kill_workers,
    seeded,
    work_on,
)

MOST_MESSAGES = 400


@pytest.fixture
async def places(tmp_path, register):
    async with paired_places(tmp_path, register=register) as opened:
        yield opened


@contextlib.contextmanager
def short_folder():
    # A socket's path has at most some hundred bytes.
    with tempfile.TemporaryDirectory(prefix="exam-cut-", dir="/tmp") as name:
        yield Path(name)


@contextlib.contextmanager
def opened_again(register, clinic, count=1):
    """Open a place's clinic by its own role, as so many connections."""
    role = clinic.station
    with contextlib.ExitStack() as undo:
        found = []
        for _ in range(count):
            vault = undo.enter_context(contextlib.closing(register.open(role)))
            vault.is_demo = True
            found.append(vault)
        yield found


def import_cut(register, clinic, sealed, at, is_answered):
    """Import with the connection cut at one message; give how many there were."""
    role = clinic.station
    with short_folder() as folder:
        cutter = Cutter(folder, register.server)
        url = cutter.url(role, register.database)
        with (
            cutter.standing(),
            contextlib.closing(open_register(url, register.stations[role])) as one,
        ):
            one.is_demo = True
            cutter.seen, cutter.at, cutter.is_answered = 0, at, is_answered
            worker = Worker(one, lambda: LATER)
            with contextlib.suppress(VaultError):
                worker.work()
    return cutter.seen


def check_cut(register, tablet, at, is_answered):
    clinic = new_register_place(register, "Clinic", "clinic")
    pair(clinic, tablet)
    (sealed,) = days_of(clinic, tablet, 1)
    queue = SpoolQueue(clinic.vault.connection, clinic.vault.clinic)
    queue.put(sealed)
    seen = import_cut(register, clinic, sealed, at, is_answered)
    assert check_whole(clinic.vault, [sealed]) in (0, 3)
    state = finish(register, clinic, tries=1)
    assert (state.waiting, state.taken, state.apart) == (0, 0, 0)
    assert check_whole(clinic.vault, [sealed]) == 3
    again = receive(sealed, clinic.exchange, LATER)
    assert again.was_known
    clinic.vault.close()
    return seen >= at


@pytest.mark.parametrize("is_answered", [True])
async def test_a_connection_cut_in_a_sample_of_statements_loses_nothing(
    tmp_path, register, is_answered
):
    async with paired_places(tmp_path) as (_, tablet):
        for at in seeded(f"cut {is_answered}").sample(range(1, 34), 2):
            check_cut(register, tablet, at, is_answered)


@pytest.mark.exhaustive
@pytest.mark.parametrize("is_answered", [False, True])
async def test_a_connection_cut_in_every_statement_loses_nothing(
    tmp_path, register, is_answered
):
    async with paired_places(tmp_path) as (_, tablet):
        for at in range(1, MOST_MESSAGES):
            if not check_cut(register, tablet, at, is_answered):
                break
        print(f"\n{at - 1} messages of one import, each cut")
        assert 20 < at < MOST_MESSAGES - 1


async def test_a_few_killed_workers_lose_nothing(places, register):
    clinic, tablet = places
    sealed = days_of(clinic, tablet, 3)
    queue = SpoolQueue(clinic.vault.connection, clinic.vault.clinic)
    for one in sealed:
        queue.put(one)
    kill_workers(register, clinic, sealed, 3, seeded("few"), 0.1)
    finish(register, clinic)
    assert check_whole(clinic.vault, sealed) == 9


@pytest.mark.exhaustive
async def test_two_hundred_killed_workers_lose_nothing(places, register):
    clinic, tablet = places
    sealed = days_of(clinic, tablet, 150)
    queue = SpoolQueue(clinic.vault.connection, clinic.vault.clinic)
    for one in sealed:
        queue.put(one)
    during = kill_workers(register, clinic, sealed, 200, seeded("many"), 0.4)
    print(f"\n200 killed, {during} of them with a new hand-over")
    state = finish(register, clinic)
    assert (state.waiting, state.taken, state.apart) == (0, 0, 0)
    assert check_whole(clinic.vault, sealed) == 450


@pytest.mark.exhaustive
async def test_twenty_restarts_of_the_server_lose_nothing(tmp_path):
    register_server.require()
    with register_server.running() as server:
        register = register_places.make(server)
        async with paired_places(tmp_path, register=register) as (clinic, tablet):
            sealed = days_of(clinic, tablet, 150)
            queue = SpoolQueue(clinic.vault.connection, clinic.vault.clinic)
            for one in sealed:
                queue.put(one)
            role = clinic.station
            url, private = register.url(role), register.stations[role]
            workers = [forked(lambda: work_on(url, private)) for _ in range(2)]
            stream, during = seeded("restarts"), 0
            for number in range(20):
                time.sleep(stream.uniform(0.05, 0.6))  # at any moment
                # As a crash does, then as an administrator does.
                server.stop(signal.SIGQUIT if number % 2 else signal.SIGINT)
                server.start()
                with contextlib.closing(open_register(url, private)) as vault:
                    vault.is_demo = True
                    check_whole(vault, sealed, is_at_work=True)
                    left = SpoolQueue(vault.connection, vault.clinic).state()
                    during += bool(left.waiting + left.taken)
            print(f"\n20 restarts, {during} of them with work left")
            for one in workers:
                os.waitpid(one, 0)
            with pytest.raises(RegisterLostError):
                # Its connection is gone with the server; the next one is new.
                clinic.vault.closed.everything()
            finish(register, clinic)
            assert check_whole(clinic.vault, sealed) == 450


@contextlib.contextmanager
def small_disk(server, size="18m"):
    """A small file system of its own for one tablespace; skipped where none may be."""
    place = server.folder / "small"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={size}", "none", place]
    if subprocess.run(mount, check=False, capture_output=True).returncode:
        pytest.skip("a small file system may not be mounted here")
    try:
        os.chown(place, server.folder.stat().st_uid, server.folder.stat().st_gid)
        yield place
    finally:
        server.stop()
        subprocess.run(["umount", place], check=True)


@pytest.mark.exhaustive
async def test_a_full_disk_refuses_and_keeps_all_that_was_confirmed(tmp_path):
    register_server.require()
    with register_server.running() as server, small_disk(server) as disk:
        server.run(f"CREATE TABLESPACE small LOCATION '{disk}'")
        server.run(
            "CREATE DATABASE full_one TABLESPACE small",
            # What is sorted while it is read goes elsewhere than what is kept.
            "ALTER DATABASE full_one SET temp_tablespaces = 'pg_default'",
        )
        register = register_places.make(server, database="full_one")
        async with paired_places(tmp_path, register=register) as (clinic, tablet):
            sealed = []

            def fill():
                for day in range(2_000):
                    exams = [
                        small_exam(f"{day}.{n}", of=animal(f"A{day}.{n}"))
                        for n in range(25)
                    ]
                    one = tablet.seal_exams(clinic, *exams, sequence=day + 1)
                    sealed.append(one)
                    clinic.receive(one)

            with pytest.raises(VaultFullError):
                fill()
            confirmed = 25 * (len(sealed) - 1)
            assert confirmed
            assert check_whole(clinic.vault, sealed) == confirmed
            with pytest.raises(VaultFullError):
                clinic.receive(sealed[-1])
            subprocess.run(["mount", "-o", "remount,size=64m", disk], check=True)
            clinic.receive(sealed[-1])
            assert check_whole(clinic.vault, sealed) == confirmed + 25


async def test_two_workers_with_the_same_bundle_give_one_receipt(places, register):
    clinic, tablet = places
    with opened_again(register, clinic, 2) as vaults:
        for number in range(3):
            exams = [small_exam(f"same {number}.{n}") for n in range(3)]
            sealed = tablet.seal_exams(clinic, *exams, sequence=number + 1)
            found = at_once(
                [lambda v=v, s=sealed: receive(s, Exchange(v), LATER) for v in vaults]
            )
            assert {one.receipt for one in found} == {found[0].receipt}
            assert sorted(one.was_known for one in found) == [False, True]
            assert clinic.hashes().count(found[0].exams[0].record_hash) == 1


async def test_a_revision_and_its_parent_at_once_never_wait_for_each_other(
    places, register
):
    clinic, tablet = places
    with opened_again(register, clinic, 2) as vaults:
        for number in range(4):
            first = small_exam(f"first {number}")
            parent = door.sha256(tablet.sign(first)).hex()
            second = replace(first, revision=1, parent_hash=parent, remark="corrected")
            sealed = [
                tablet.seal_exams(clinic, one, sequence=2 * number + n + 1)
                for n, one in enumerate((first, second))
            ]
            at_once(
                [
                    lambda v=v, s=s: receive(s, Exchange(v), LATER)
                    for v, s in zip(vaults, sealed, strict=True)
                ]
            )
            assert Exchange(clinic.vault).quarantine.held() == []
            assert len(clinic.vault.closed.revisions(first.exam_id)) == 2


async def test_two_revisions_at_once_are_one_fork(places, register):
    clinic, tablet = places
    with opened_again(register, clinic, 2) as vaults:
        for number in range(3):
            first = small_exam(f"first {number}")
            parent = door.sha256(tablet.sign(first)).hex()
            clinic.receive(tablet.seal_exams(clinic, first, sequence=3 * number + 1))
            sealed = [
                tablet.seal_exams(
                    clinic,
                    replace(first, revision=1, parent_hash=parent, remark=remark),
                    sequence=3 * number + n + 2,
                )
                for n, remark in enumerate(("left", "right"))
            ]
            found = at_once(
                [
                    lambda v=v, s=s: receive(s, Exchange(v), LATER)
                    for v, s in zip(vaults, sealed, strict=True)
                ]
            )
            told = {line.outcome for one in found for line in one.receipt_view.lines}
            assert told == {Outcome.REVISION, Outcome.FORK}
            rows = clinic.vault.closed.tips(first.exam_id)
            assert sorted(row.is_fork for row in rows) == [False, True]


def at_once(actions):
    """Run actions in threads that begin together; give what they return."""
    start, found = threading.Barrier(len(actions)), [None] * len(actions)

    def run(place, action):
        start.wait()
        found[place] = action()

    threads = [threading.Thread(target=run, args=given) for given in enumerate(actions)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert None not in found
    return found


async def test_clocks_that_are_years_off_move_no_record_to_another_month(
    places, register
):
    clinic, tablet = places
    for number, utc_ms in enumerate((0, 4_000_000_000_000)):
        exam = small_exam(f"skewed {number}")
        sealed = tablet.seal_exams(
            clinic, exam, sequence=number + 1, made=Moment(4_000_000_000_000 - utc_ms)
        )
        received = receive(sealed, clinic.exchange, Moment(utc_ms))
        assert abs(received.skew_ms) > 10**11
    months = register.run(
        "SELECT DISTINCT month = register.this_month() FROM register.record "
        f"WHERE clinic = {clinic.vault.clinic}"
    )
    assert months == [(True,)]
    assert len(clinic.vault.closed.latest(5)) == 2


async def test_a_poisoned_hand_over_is_set_apart_after_three_tries(
    places, register, monkeypatch
):
    clinic, tablet = places
    sealed = days_of(clinic, tablet, 2)
    worker = Worker(clinic.vault, lambda: LATER)
    for one in sealed:
        worker.queue.put(one)

    def poisoned(given, exchange, now):
        if given == sealed[0]:
            raise ZeroDivisionError("what nobody thought of")
        return receive(given, exchange, now)

    monkeypatch.setattr("exam_app.register.worker.receive", poisoned)
    worked = worker.work_through()
    assert len(worked.received) == 1
    assert worked.refused == ["ZeroDivisionError"] * 3
    (apart,) = worker.queue.apart()
    assert apart.bundle_hash == door.sha256(sealed[0]).hex()
    monkeypatch.undo()
    worker.queue.release(apart.number)
    assert len(worker.work_through().received) == 2
    assert check_whole(clinic.vault, sealed) == 6


async def test_what_a_worker_took_that_is_gone_is_taken_up_at_once(places, register):
    clinic, tablet = places
    (sealed,) = days_of(clinic, tablet, 1)
    with opened_again(register, clinic, 2) as (gone, other):
        first, second = (SpoolQueue(v.connection, v.clinic) for v in (gone, other))
        first.put(sealed)
        assert not first.put(sealed)
        job = first.take()
        assert second.take() is None
        gone.close()
        again = until(second.take)
        assert (again.number, again.tries) == (job.number, 2)
        with pytest.raises(VaultError):
            first.finish(job)


def until(action):
    """Ask again until there is something: the server notices a closed session soon."""
    for _ in range(200):
        if (found := action()) is not None:
            return found
        time.sleep(0.02)
    raise AssertionError("nothing came")


@pytest.mark.exhaustive
async def test_a_large_hand_over_has_the_clinic_alone_and_not_too_many_locks(
    places, register
):
    clinic, tablet = places
    exams = [small_exam(f"n{n}", of=animal(f"A{n}")) for n in range(220)]
    large = tablet.seal_exams(clinic, *exams)
    small = tablet.seal_exams(clinic, exams[0], sequence=2)
    taken = []
    with opened_again(register, clinic, 2) as vaults:
        run_all = vaults[0].connection.run_all

        def counted(asked):
            taken.extend(len(given[0]) for text, given in asked if "xact_lock" in text)
            return run_all(asked)

        vaults[0].connection.run_all = counted
        at_once(
            [
                lambda v=v, s=s: receive(s, Exchange(v), LATER)
                for v, s in zip(vaults, (large, small), strict=True)
            ]
        )
    assert set(taken) == {1}
    assert len(set(clinic.hashes())) == len(clinic.hashes()) == 220


async def test_an_animal_whose_id_no_column_holds_is_passed_over(places, register):
    clinic, tablet = places
    exam = small_exam("one")
    strange = {"animal_id": "nothing \0 that a text may hold", "name": "Odd"}
    contents = Contents((tablet.sign(exam),), animals=(strange,))
    worker = Worker(clinic.vault, lambda: LATER)
    worker.queue.put(tablet.seal(clinic, contents))
    worked = worker.work_through()
    assert (len(worked.received), worked.refused) == (1, [])
    assert len(clinic.hashes()) == 1


async def test_strange_hand_overs_are_refused_and_kept_for_a_person(places, register):
    clinic, tablet = places
    exam = small_exam("one", closer=TECHNICIAN)
    sealed = tablet.seal_exams(clinic, exam)
    worker = Worker(clinic.vault, lambda: LATER)
    for one in (b"no bundle at all", sealed[:-1], sealed):
        worker.queue.put(one)
    worked = worker.work_through()
    assert len(worked.received) == 1
    assert len(worked.refused) == 2
    assert worker.queue.state().apart == 2
    worker.queue.drop(worker.queue.apart()[0].number)
    assert worker.queue.state().apart == 1


def test_every_error_of_the_driver_is_said_in_our_words(register):
    import psycopg

    with pytest.raises(VaultFullError), connections.said_in_our_words():
        raise psycopg.errors.DiskFull("no room")
    with pytest.raises(UnstorableValueError), connections.said_in_our_words():
        raise psycopg.errors.InvalidTextRepresentation("no number")
    with pytest.raises(RegisterRefusedError), connections.said_in_our_words():
        raise psycopg.errors.FeatureNotSupported("of another version")
    with pytest.raises(RegisterLostError):
        open_register(f"host={register.server.folder}/no dbname=x", bytes(32))
