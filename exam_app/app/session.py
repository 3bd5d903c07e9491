"""The state of this running app, shared by every browser tab: vault, lock, person.

One tab at a time holds the session. A vault is opened in a tab and belongs to it;
another tab may take over with the passphrase. A short lock keeps the vault open in
memory and asks for the PIN; a restart, or five wrong PINs, asks for the passphrase.
A PIN and a name are claims: they keep entries apart and a passer-by out, no more.

Everything that writes goes through ``write``: off the event loop, one after the
other, and finished only when the store has it.
"""

import asyncio
import time
from collections.abc import Awaitable, Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from enum import Enum
from functools import partial
from pathlib import Path
from threading import Thread
from typing import ClassVar, Protocol, TypeVar

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms.vital_form import VitalForm
from exam_app.app.maintenance.first_start import SetUp, fill_settings
from exam_app.app.maintenance.store_steps import StoreSteps, begin_closing
from exam_app.app.typed_entries import TypedEntries
from exam_app.crypto import door
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Person
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.engine.files import Opener, open_file
from exam_app.store.errors import PinLockedError
from exam_app.store.vault.folder import create_vault, vault_exists
from exam_app.store.vault.open import open_vault
from exam_app.store.vault.vault import Vault

T = TypeVar("T")

LOCK_AFTER_SECONDS = 300.0
DEMO_PIN = "1234"
LONGEST_WAKE_SECONDS = 900.0


class SessionLockedError(ExamError):
    """Something asked for the exams while they are locked."""

    advice: ClassVar[str] = to_translate(
        "The exams are locked. This change is not saved. "
        "Unlock, then make the change again."
    )


class Messages(Protocol):
    """What the page at work shows of what was done, refused, saved or changed."""

    def tell(
        self, sentence: str, undo: Callable[[], Awaitable[None]] | None = None
    ) -> None:
        """Tell what was done, with a way back if there is one."""

    def refuse(self, error: Exception) -> None:
        """Show why something was refused."""

    def show_saved(self, words: str, *, is_safe: bool = True) -> None:
        """Say whether the last change is in the store."""

    def exam_changed(self, editor: ExamEditor, before: Exam) -> None:
        """Look at an exam that has just become another."""


class SilentMessages(Messages):
    """Says nothing, where no page is at work."""

    def refuse(self, error: Exception) -> None:
        """Raise it: nobody could read it."""
        raise error


class LockState(Enum):
    """What the next person at the screen has to give."""

    EMPTY = "nothing is set up yet"
    SEALED = "passphrase"
    RESTING = "PIN"
    OPEN = "nothing"


@dataclass(slots=True, repr=False)
class Session:
    """The one session of this process.

    Attributes:
        folder: Where the vault is kept; must exist and be writable.
        derivation: Work asked for a new passphrase.
        bounds: What an opened vault may ask for; never looser than the default,
            except in tests.
        opener: Opens the vault's files; a phone's browser has files of its own.
        at_register: Gives the register that a station's own store opens; closes that
            store where it is refused.
        is_demo: Whether everything here is invented and thrown away.
        state: What unlocking asks for.
        holder: The key of the tab that holds the session, or None.
        is_holder_gone: Whether that tab was closed or lost its connection.
        person: Who examines now, or None.
        messages: Where the page at work shows what was done, refused and saved.
        typed: What is typed in forms and not saved yet.
        steps: The long steps on the open vault.
        told_reports: What the open vault found wrong and was told.
        editors: Of the open exams that are in memory, by exam.
        counting: By exam and vital, what was entered on its sheet before its count
            filled the screen, and the route of the screen that the sheet lay over.
            A restart in the middle of a count opens the form anew.
    """

    folder: Path
    derivation: door.KeyDerivation = field(default_factory=door.KeyDerivation)
    bounds: door.DerivationBounds = door.PRODUCTION_BOUNDS
    opener: Opener = open_file
    at_register: Callable[[Vault], Vault] = lambda vault: vault
    is_demo: bool = False
    lock_after_seconds: float = field(default_factory=lambda: LOCK_AFTER_SECONDS)
    state: LockState = field(init=False)
    holder: str | None = None
    is_holder_gone: bool = False
    person: Person | None = None
    messages: Messages = field(default_factory=SilentMessages)
    typed: TypedEntries = field(init=False)
    steps: StoreSteps = field(init=False)
    told_reports: set[str] = field(init=False)
    editors: dict[str, ExamEditor] = field(default_factory=dict)
    counting: dict[tuple[str, str], tuple[VitalForm, str]] = field(default_factory=dict)
    _vault: Vault | None = None
    _closing: Thread | None = None
    _on_lost: Callable[[], None] | None = None
    _turn: asyncio.Lock = field(default_factory=asyncio.Lock)
    _last_touch: float = field(default_factory=time.monotonic)
    _awake_until: float = 0.0
    _reviewer: str = ""

    def __post_init__(self) -> None:
        """Look whether the folder holds a vault."""
        self.typed = TypedEntries(self.write, lambda: self.vault.typed)
        self._begin_anew()
        exists = vault_exists(self.folder, self.opener)
        self.state = LockState.SEALED if exists else LockState.EMPTY

    @property
    def vault(self) -> Vault:
        """The open vault; ask for it each time, since unlocking makes a new one.

        Raises:
            SessionLockedError: It is not open.
        """
        if self._vault is None:
            raise SessionLockedError("no vault is open")
        return self._vault

    def holds(self, vault: Vault) -> bool:
        """Whether this very vault is still the open one."""
        return self._vault is vault

    @property
    def examiner(self) -> Person:
        """The person who examines now.

        Raises:
            SessionLockedError: Nobody is chosen.
        """
        if self.person is None:
            raise SessionLockedError("nobody is chosen")
        return self.person

    async def set_up(self, answers: SetUp) -> str:
        """Make the vault, this device's keys and its first person.

        Returns:
            The recovery code, shown once and never kept in the open.
        """
        vault, code = await create_vault(
            self.folder,
            answers.passphrase,
            self.derivation,
            bounds=self.bounds,
            opener=self.opener,
        )
        self._hold(vault)
        self.state = LockState.OPEN
        await self.write(lambda: fill_settings(vault, answers))
        self.person = answers.person
        self.touch()
        return code

    async def open_with_passphrase(self, typed: str, *, is_code: bool = False) -> None:
        """Open the vault, or confirm the passphrase of the one that is open.

        Args:
            typed: The passphrase, or the recovery code in its place.
            is_code: Whether it is the recovery code.
        """
        if self._vault is not None:
            await self._vault.confirm_passphrase(typed)
            self._wake_up()
            return
        if self._closing is not None:
            await asyncio.to_thread(self._closing.join)
        vault = await open_vault(
            self.folder, typed, is_code=is_code, bounds=self.bounds, opener=self.opener
        )
        self.admit(await asyncio.to_thread(self.at_register, vault))

    async def open_with_pin(self, person_id: str, pin: str) -> bool:
        """Wake from a short lock as this person.

        Returns:
            False for a wrong PIN.

        Raises:
            PinLockedError: Five were wrong; only the passphrase opens now.
        """
        vault = self.vault
        try:
            fits = await self.write(lambda: vault.people.check_pin(person_id, pin))
        except PinLockedError:
            self.seal()
            raise
        if fits:
            self.person = vault.people.get(person_id)
            self._wake_up()
        return fits

    async def choose_person(self, person_id: str) -> None:
        """Make another known person the examiner; kept for the next start."""
        vault = self.vault
        self.end_reviewing()
        self.person = vault.people.get(person_id)
        await self.write(lambda: vault.settings.put("last_person", person_id))

    def take(self, key: str, messages: Messages, on_lost: Callable[[], None]) -> None:
        """Give the exams to a tab; the one that had them is told that it lost them."""
        if self.holder != key and self._on_lost is not None:
            self._on_lost()
        if self.holder != key:
            self.end_reviewing()
        self.holder, self._on_lost = key, on_lost
        self.messages = messages
        self.is_holder_gone = False

    @property
    def is_reviewing(self) -> bool:
        """Whether the person at the screen gave a PIN for this sitting of reviews."""
        is_same = self.person is not None and self.person.person_id == self._reviewer
        return is_same and self.state is LockState.OPEN

    def begin_reviewing(self) -> None:
        """Let the person whose PIN has just fitted sign reviews without another one.

        It ends when the exams are locked or rest, when nobody touched the screen for
        the time that locks it, with another person or tab, and where the review is
        left.
        """
        self._reviewer = self.examiner.person_id

    def end_reviewing(self) -> None:
        """Ask for the PIN again at the next signature."""
        self._reviewer = ""

    def rest(self) -> None:
        """Lock for a short while: the PIN opens again."""
        self.end_reviewing()
        if self.state is not LockState.OPEN:
            return
        person = self.person
        if person and self.vault.people.has_pin(person.person_id):
            self.state = LockState.RESTING
        else:
            self.seal()

    def seal(self) -> None:
        """Close the vault: only the passphrase or the recovery code opens again."""
        self.end_reviewing()
        if self._vault is not None:
            vault, self._vault = self._vault, None
            self._closing = begin_closing(vault)
        if self.state is not LockState.EMPTY:
            self.state = LockState.SEALED

    def close(self) -> None:
        """Close the vault at the end of the run."""
        self.seal()
        if self._closing is not None:
            self._closing.join()

    async def write(self, action: Callable[[], T]) -> T:
        """Run something that writes, off the event loop, one at a time."""
        async with self._turn:
            return await asyncio.to_thread(action)

    async def save(self, action: Callable[[], T]) -> T:
        """Write to the store; "saved" is shown only after it has the change.

        Args:
            action: Calls one or more ``put`` of the vault.

        Returns:
            What the action returns.

        Raises:
            VaultError: Nothing was saved; its advice is shown if it is not caught.
        """
        try:
            result = await self.write(action)
        except Exception:
            self.messages.show_saved(tr("Not saved"), is_safe=False)
            raise
        self.messages.show_saved(
            tr("Saved {time}", time=datetime.now().astimezone().strftime("%H:%M:%S"))
        )
        return result

    async def read(self, action: Callable[[], T]) -> T:
        """Run something that reads, when no write is under way."""
        async with self._turn:
            return action()

    def touch(self) -> None:
        """Note that somebody is at the screen."""
        if self.is_idle():
            # Whoever comes back before the lock looks is nobody who gave a PIN.
            self.end_reviewing()
        self._last_touch = time.monotonic()

    def is_idle(self) -> bool:
        """Whether nobody touched the screen for the time that locks it."""
        now = time.monotonic()
        since = max(self._last_touch, min(self._awake_until, now))
        is_asked_to_stay = self._awake_until > now
        return not is_asked_to_stay and now - since > self.lock_after_seconds

    @contextmanager
    def stay_awake(self, seconds: float) -> Iterator[None]:
        """Keep the screen unlocked during a count or while codes play.

        Args:
            seconds: At most a quarter of an hour, however much is asked for.
        """
        self._awake_until = time.monotonic() + min(seconds, LONGEST_WAKE_SECONDS)
        try:
            yield
        finally:
            self._awake_until = 0.0
            self.touch()

    def admit(self, vault: Vault) -> None:
        """Work with a vault that was just opened or restored."""
        self._hold(vault)
        self.typed.load()
        last = self.person or vault.people.get(vault.settings.get("last_person", ""))
        everyone = vault.people.all()
        self.person = last or (everyone[0] if everyone else None)
        self._wake_up()

    def _hold(self, vault: Vault) -> None:
        vault.is_demo = self.is_demo
        self._vault = vault
        self._begin_anew()

    def _begin_anew(self) -> None:
        self.told_reports = set()
        awake = partial(self.stay_awake, LONGEST_WAKE_SECONDS)
        self.steps = StoreSteps(self.write, awake)

    def _wake_up(self) -> None:
        self.state = LockState.OPEN
        self.touch()
