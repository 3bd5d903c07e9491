"""What goes wrong between a station and its register, made on purpose."""

import contextlib
import os
import random
import signal
import socket
import threading
import time
from dataclasses import dataclass

from exam_app.crypto import door
from exam_app.exchange.exchange import Exchange
from exam_app.register.queue import SpoolQueue
from exam_app.register.register_vault import open_register
from exam_app.register.worker import Worker
from exam_app.store.errors import VaultError
from tests.handover_places import LATER, animal, small_exam


@dataclass
class Cutter:
    """Stands between a client and the server, and cuts at one message of the client.

    Attributes:
        at: The message that is cut, counted from 1; 0 for none.
        is_answered: Whether the server gets it and its answer is lost, or neither.
        seen: How many messages came by.
    """

    folder: object
    server: object
    at: int = 0
    is_answered: bool = False
    seen: int = 0

    def url(self, role, database):
        return f"host={self.folder} user={role} dbname={database}"

    @contextlib.contextmanager
    def standing(self):
        own = socket.socket(socket.AF_UNIX)
        own.bind(str(self.folder / ".s.PGSQL.5432"))
        own.listen(8)
        threading.Thread(target=self._accept, args=(own,), daemon=True).start()
        try:
            yield self
        finally:
            own.close()

    def _accept(self, own):
        while True:
            try:
                client, _ = own.accept()
            except OSError:
                return
            threading.Thread(target=self._pass_on, args=(client,), daemon=True).start()

    def _pass_on(self, client):
        server = socket.socket(socket.AF_UNIX)
        server.connect(str(self.server.folder / ".s.PGSQL.5432"))
        is_cut = threading.Event()
        back = threading.Thread(target=self._answers, args=(server, client, is_cut))
        back.start()
        with contextlib.suppress(OSError):
            while message := client.recv(1 << 20):
                self.seen += 1
                if self.seen == self.at:
                    is_cut.set()
                    if self.is_answered:
                        server.sendall(message)
                        server.settimeout(5)
                        back.join(5)
                    break
                server.sendall(message)
        for one in (client, server):
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
        back.join()
        client.close()
        server.close()

    def _answers(self, server, client, is_cut):
        with contextlib.suppress(OSError):
            while answer := server.recv(1 << 20):
                if is_cut.is_set():
                    return
                client.sendall(answer)
        with contextlib.suppress(OSError):
            client.shutdown(socket.SHUT_RDWR)


def days_of(clinic, tablet, count, exams=3):
    """Seal hand-overs of small exams, each of an animal of its own."""
    sealed = []
    for day in range(count):
        found = [
            small_exam(f"{day}.{n}", of=animal(f"Animal {day}.{n}"))
            for n in range(exams)
        ]
        sealed.append(tablet.seal_exams(clinic, *found, sequence=day + 1))
    return sealed


def check_whole(vault, sealed, *, is_at_work=False):
    """Every record once, every receipt for what is stored, nothing without one.

    While others are at work a record may come after its receipts were looked for.
    """
    incoming, receipted = Exchange(vault).incoming, set()
    for one in sealed:
        kept = incoming.get(door.sha256(one).hex())
        if kept is not None:
            assert incoming.receipt(kept.bundle_hash), "a bundle without its receipt"
            receipted |= set(kept.outcomes)
    hashes = [row.record_hash for row in vault.closed.everything()]
    assert len(hashes) == len(set(hashes)), "double"
    assert receipted <= set(hashes), "a receipt without its records"
    assert is_at_work or receipted == set(hashes), "a record without its receipt"
    return len(hashes)


def forked(action):
    """Run something in a process of its own; give its number."""
    child = os.fork()
    if child:
        return child
    code = 1
    with contextlib.suppress(BaseException):
        action()
        code = 0
    os._exit(code)


def work_on(url, private):
    """Import until nothing waits, whatever breaks meanwhile."""
    deadline = time.monotonic() + 120
    while time.monotonic() < deadline:
        with (
            contextlib.suppress(VaultError),
            contextlib.closing(open_register(url, private)) as vault,
        ):
            vault.is_demo = True
            worker = Worker(vault, lambda: LATER)
            worker.work_through()
            state = worker.queue.state()
            if not (state.waiting or state.taken):
                return
        time.sleep(0.05)


def kill_workers(register, clinic, sealed, kills, stream, longest):
    """Begin worker after worker and kill so many, each at any moment.

    A worker that was done before it could be killed does not count; where nothing
    waits any more, one set apart is tried again or one that is stored comes again.

    Returns:
        How many of those killed began with a hand-over that was not stored.
    """
    url, private = register.url(clinic.station), register.stations[clinic.station]
    queue = SpoolQueue(clinic.vault.connection, clinic.vault.clinic)
    killed, during = 0, 0
    while killed < kills:
        state = queue.state()
        is_new = bool(state.waiting + state.taken + state.apart)
        if not is_new:
            queue.put(sealed[killed % len(sealed)])
        elif not state.waiting + state.taken:
            queue.release(queue.apart()[0].number)
        child = forked(lambda: work_on(url, private))
        # Not a wait for something: the kill may come at any moment.
        time.sleep(stream.uniform(0, longest))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        killed += os.WIFSIGNALED(status)
        during += os.WIFSIGNALED(status) and is_new
        check_whole(clinic.vault, sealed)
    return during


def finish(register, clinic, tries=3):
    """Let what was set apart be tried again, until nothing waits."""
    url, private = register.url(clinic.station), register.stations[clinic.station]
    queue = SpoolQueue(clinic.vault.connection, clinic.vault.clinic)
    for _ in range(tries):
        for one in queue.apart():
            queue.release(one.number)
        work_on(url, private)
    return queue.state()


def seeded(name):
    """A stream of chance that is the same for the same name."""
    return random.Random(name)
