"""The app and its pages in this process, driven as the browser's ``Driver`` drives.

The app's own main runs on an event loop in a thread of its own, over a real store. A
control is found by its identifier in what was sent to the page and can be reached: in
the topmost layer, visible; a tap needs it enabled as well. Every step first lets the
app come to rest and then waits for what it needs to see.

Not here: pixels and places, the browser's own focus and keys, the server, a process
that can be killed. A walk that needs one of these is marked ``chromium_only``.
"""

import asyncio
import atexit
import contextlib
import io
import itertools
import os
import shutil
import tempfile
import threading
import time
from collections.abc import Callable, Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from PIL import Image

from exam_app.__main__ import fill_demo
from exam_app.app.clinic.shared_folder import FOLDER
from exam_app.app.session import Session
from exam_app.ui.region.body_sheet import GAP
from exam_app.ui.shell.app import app_main
from tests.browser.cheap_app import CHEAP_COSTS
from tests.browser.driver import PHONE, line_of
from tests.browser.fake_client import Control, FakeClient, Shown
from tests.browser.prepared import give_passphrase

T = TypeVar("T")

PATIENCE_SECONDS = 20.0
_LONGEST_SECONDS = 60.0
_LOOK_SECONDS = 0.001
# A player shows five codes a second and more.
_SOON_SECONDS = 1.0
_TAPS = ("click", "tap_down", "tap")
_SPOKEN = ("label", "title", "subtitle", "tooltip", "hint_text", "semantics_label")
_numbers = itertools.count(1)
# Asked before any walk has moved TMPDIR.
_TEMPORARY = tempfile.gettempdir()
_DEMO_PASSPHRASE = "a demonstration"
_demonstrations: dict[bool, Path] = {}


# What is the same control after these were tapped, if it is there before and after.
_PLAYS = ("player-done", "player-next", "player-telephone", "player-dots")
_STAYS = ("pad-", "exam-stop", "exam-urgent", "exam-zone", *_PLAYS)
_STAYS_AFTER = ("pad-", "vital-", "region-", "player-")


class _WatchedLoop(asyncio.SelectorEventLoop):
    """A loop that knows whether it still waits for what a thread does."""

    busy = 0

    @property
    def is_at_rest(self) -> bool:
        """Whether nothing but what asks has a turn, and no thread is waited for."""
        return not self.busy and not self._ready  # type: ignore[attr-defined]

    def run_in_executor(self, *given: Any) -> asyncio.Future[Any]:  # type: ignore[override]
        # Counted down by the loop, with the result: a thread can be set aside between
        # its last step and the word of it, for longer than the loop seems at rest.
        future = super().run_in_executor(*given)
        self.busy += 1
        future.add_done_callback(self._count_down)
        return future

    def _count_down(self, _: asyncio.Future[Any]) -> None:
        self.busy -= 1


class InProcessApp:
    """A started app: what ``RunningApp`` is in a process of its own."""

    def __init__(self, *arguments: str, folder: Path | None = None) -> None:
        self._ended = contextlib.ExitStack()
        self.is_demo = "--demo" in arguments
        if folder is None:
            folder = Path(
                self._ended.enter_context(
                    # Asked here: what tests set is not looked at again by itself.
                    tempfile.TemporaryDirectory("", "exam-demo-", os.getenv("TMPDIR"))
                )
            )
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        self.folder = folder
        self.clients: list[FakeClient] = []
        self._loop = _WatchedLoop()
        self._threads = ThreadPoolExecutor()
        self._loop.set_default_executor(self._threads)
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._thread.start()
        self._name = f"http://in-process-{next(_numbers)}"
        self.session = self.run(self._start(is_clinic="--clinic" in arguments))

    def first_address(self) -> str:
        """Give an address for a page's ``open``."""
        return self.new_address()

    def new_address(self) -> str:
        """Give one more."""
        return f"{self._name}/{next(_numbers)}"

    def answers(self, address: str) -> bool:
        """Whether an address is of this app, and it runs."""
        return self._thread.is_alive() and address.startswith(f"{self._name}/")

    def run(self, work: Coroutine[Any, Any, T]) -> T:
        """Do something on the app's loop and wait for it."""
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(
            _LONGEST_SECONDS
        )

    async def open_page(self, size: dict[str, int]) -> FakeClient:
        """Open a page in a new tab."""
        client = FakeClient(self._loop, self._threads)
        self.clients.append(client)
        client.open(app_main(self.session), size)
        return client

    async def come_to_rest(self) -> None:
        """Wait until the app has nothing to do but to wait, itself."""
        await asyncio.sleep(0)
        while not self._loop.is_at_rest:
            await asyncio.sleep(_LOOK_SECONDS if self._loop.busy else 0)

    def killed(self) -> Path:
        """Give a copy of the folder as a kill would leave it now, and end the app."""
        left = self.folder.with_name(f"{self.folder.name}-{next(_numbers)}")
        shutil.copytree(self.folder, left)
        self.stop()
        return left

    def stop(self) -> None:
        """End the app as a signal does, and give its store back."""
        if not self._thread.is_alive():
            return
        self.run(self._end())
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._threads.shutdown()
        self._loop.close()
        self._ended.close()

    async def _start(self, *, is_clinic: bool) -> Session:
        if self.is_demo:
            filled = await _demonstration(is_clinic=is_clinic)
            shutil.copytree(filled, self.folder, dirs_exist_ok=True)
        session = _session(self.folder, is_demo=self.is_demo)
        if self.is_demo:
            await session.open_with_passphrase(_DEMO_PASSPHRASE)
            if is_clinic:
                session.vault.settings.put(FOLDER, str(self.folder / "stick"))
        return session

    async def _end(self) -> None:
        for client in self.clients:
            client.session.close()
        await asyncio.sleep(0)
        others = asyncio.all_tasks() - {asyncio.current_task()}
        for task in others:
            task.cancel()
        await asyncio.gather(*others, return_exceptions=True)
        self.session.close()


def _session(folder: Path, *, is_demo: bool) -> Session:
    return Session(folder, CHEAP_COSTS.derivation, CHEAP_COSTS.bounds, is_demo=is_demo)


async def _demonstration(*, is_clinic: bool) -> Path:
    """Give the folder of a demonstration, filled once for all apps of this process."""
    if is_clinic not in _demonstrations:
        folder = Path(tempfile.mkdtemp(prefix="exam-filled-", dir=_TEMPORARY))
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
        session = _session(folder, is_demo=True)
        await fill_demo(session, _DEMO_PASSPHRASE, is_clinic=is_clinic)
        session.close()
        _demonstrations[is_clinic] = folder
    return _demonstrations[is_clinic]


@dataclass
class InProcessDriver:
    """One page of an app in this process, used as ``Driver`` is."""

    size: dict[str, int]
    apps: list[InProcessApp]
    _app: InProcessApp = field(init=False)
    _client: FakeClient = field(init=False)
    _address: str = field(init=False)
    _seen: list[bytes] = field(default_factory=list)

    @property
    def app(self) -> InProcessApp:
        """The app whose page this is."""
        return self._app

    def open(self, address: str) -> None:
        """Open an address in this page."""
        before = getattr(self, "_client", None)
        if before is not None and self._app.answers(self._address):
            self._app.run(before.leave())
        self._address = address
        self._app = next(app for app in self.apps if app.answers(address))
        self._client = self._app.run(self._app.open_page(self.size))

    @property
    def client(self) -> FakeClient:
        """What stands for the browser."""
        return self._client

    @property
    def route(self) -> str:
        """The address of the screen, from its first slash."""
        return str(self._look(lambda: self._client.page["route"]))

    def go(self, path: str) -> None:
        """Go to a screen as the browser's own arrows do, without a reload."""
        self._do(lambda: self._client.go(path))

    def names(self, start: str) -> list[str]:
        """Give the identifiers here that start so, as they stand on the page."""
        return self._look(lambda: list(self._names(start)))

    def named(self, start: str) -> str:
        """Wait for the first control whose identifier starts so, and give it."""
        return self._until(
            lambda: next(self._names(start), None), f"{start}... is not here"
        )

    def any_of(self, *identifiers: str) -> str:
        """Wait until one of several controls is there, and say which."""
        return self._until(
            lambda: next(filter(self._find, identifiers), None),
            f"none of {identifiers} is here",
        )

    def until(self, happened: Callable[[], bool], what: str) -> None:
        """Wait for something that is not to be seen on the page."""

        last = time.monotonic() + PATIENCE_SECONDS
        while not happened():
            if time.monotonic() > last:
                raise AssertionError(f"not {what}")
            self._app.run(asyncio.sleep(_LOOK_SECONDS))

    def is_empty(self, identifier: str) -> bool:
        """Whether a text field is there now, and nothing stands in it."""
        return self._look(
            lambda: (
                self._entry_in(identifier, lambda entry: not entry.get("value"))
                is not None
            )
        )

    def to_front(self) -> None:
        """Do nothing: every page is in front here."""

    def around(self, identifier: str) -> tuple[Control, ...]:
        """Give what a control stands in, from the page inwards."""
        return self._until(
            lambda: self._find(identifier), f"{identifier} is not here"
        ).around

    def has(self, identifier: str) -> bool:
        """Whether a control is there now."""
        return self._look(lambda: self._find(identifier) is not None)

    def wait(self, identifier: str) -> None:
        """Wait until a control is there."""
        self._until(lambda: self._find(identifier), f"{identifier} is not here")

    def gone(self, identifier: str) -> None:
        """Wait until a control is no longer there."""
        self._until(lambda: self._find(identifier) is None, f"{identifier} is here")

    def scroll_to(self, identifier: str) -> None:
        """Wait for a control; nothing is out of view here."""
        self.bring_up(identifier)
        self.wait(identifier)

    def bring_up(self, identifier: str) -> bool:
        """Make the part current whose control this is, if it is another's turn.

        Returns:
            Whether its line was tapped for it.
        """
        line = line_of(identifier)
        if not line or self.any_of(identifier, line) == identifier:
            return False
        shown = self._until(lambda: self._tappable(line), f"no {line}")
        self._do(lambda: self._tap(shown))
        return True

    def click(self, identifier: str) -> None:
        """Tap the first thing inside a control that can be tapped."""
        self.bring_up(identifier)
        shown = self._until(
            lambda: self._tappable(identifier),
            f"{identifier} is not here, or nothing in it can be tapped now",
        )
        keys, route = self._look(self._keys), self._client.page.get("route")
        self._do(lambda: self._tap(shown))
        if self._client.page.get("route") == route and identifier.startswith(
            _STAYS_AFTER
        ):
            now = self._look(self._keys)
            if ("exam-zone" in keys) is not ("exam-zone" in now):
                return
            anew = [name for name, key in keys.items() if now.get(name, key) != key]
            assert not anew, f"made anew, where a quick tap is lost: {anew}"

    def _keys(self) -> dict[str, int]:
        """Give which control each key of a pad is, and what an exam always offers."""
        shown = [one.control for one in self._client.shown()]
        named = [
            one for one in shown if (one.get("identifier") or "").startswith(_STAYS)
        ]
        return {one["identifier"]: one["content"]["_i"] for one in named}

    def touch(self, identifier: str) -> None:
        """Tap it; no thumb differs from a mouse here."""
        self.click(identifier)

    def touch_drawing(self, identifier: str, x: float, y: float) -> None:
        """Tap a place of the drawings below each other in a control, in pixels."""
        shown = self._until(lambda: self._find(identifier), f"{identifier} is not here")
        drawings = self._look(
            lambda: [s.control for s in self._within(shown) if _is_drawing(s.control)]
        )
        tops = itertools.accumulate(
            (one["content"]["height"] + GAP for one in drawings), initial=0
        )
        top, touched = [
            found for found in zip(tops, drawings, strict=False) if found[0] <= y
        ][-1]
        at = {"k": "touch", "l": {"x": x, "y": y - top}}
        self._do(lambda: self._client.event(touched, "tap_down", at))
        self._do(lambda: self._client.event(touched, "tap", at))

    def type(self, identifier: str, text: str) -> None:
        """Replace what stands in a text field; the last sign is typed by itself."""
        shown = self._entry(identifier)
        for part in (text[:-1], text):
            self._do(lambda part=part: self._write(shown.control, part))

    def value(self, identifier: str) -> str:
        """Read what stands in a text field, once something does."""
        return self._until(
            lambda: self._entry_in(identifier, lambda c: c.get("value")),
            f"{identifier} is no field with something in it",
        ).control["value"]

    def focus_drawing(self, identifier: str) -> None:
        """Go to a drawing as Tab does: it is let go there."""
        self.wait(identifier)
        shown = self._until(lambda: self._find(identifier), f"{identifier} is not here")
        keys = next(
            one.control
            for one in self._within(shown)
            if one.control["_c"] == "KeyboardListener"
        )
        self._do(lambda: self._client.focus(keys))
        self._do(lambda: self._client.event(keys, "key_up", {"key": "Tab"}))

    def press(self, key: str) -> None:
        """Press a key where the cursor is."""
        self._do(lambda: self._press({"Space": " "}.get(key, key)))

    def text(self, identifier: str) -> str:
        """Read everything a control says, visible text and labels."""
        shown = self._until(lambda: self._find(identifier), f"{identifier} is not here")
        return self._look(lambda: "\n".join(self._words(shown)))

    def wait_text(self, identifier: str, text: str) -> None:
        """Wait until a control says something."""
        self._until(
            lambda: any(
                text in "\n".join(self._words(shown)) for shown in self._all(identifier)
            ),
            f"{identifier} does not say {text!r}",
        )

    def read_down_to(self, words: str) -> None:
        """Wait until the page says something, in whatever letters."""
        wanted = " ".join(words.split()).lower()
        self._until(
            lambda: any(
                wanted in " ".join(said.split()).lower()
                for shown in self._client.shown()
                for said in _said(shown.control)
            ),
            f"nothing here says {words!r}",
        )

    def pictures(self) -> list[bytes]:
        """Give the pictures on the page, others than before if they change soon."""

        async def waited() -> list[bytes]:
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(_SOON_SECONDS):
                    while self._pictures() == self._seen:
                        self._client.changed.clear()
                        await self._client.changed.wait()
            self._seen = self._pictures()
            return self._seen

        return self._app.run(waited())

    def choose(self, identifier: str, files: list[Path]) -> None:
        """Tap a control and give these files to the window that it opens."""
        self._client.to_choose = files
        self.click(identifier)

    def download(self, identifier: str) -> tuple[str, bytes]:
        """Tap a control and take the file that it offers: its name and content."""
        before = len(self._client.saved)
        self.click(identifier)
        return self._until(
            lambda: self._client.saved[before:], f"{identifier} offers no file"
        )[0]

    def shot(self, name: str) -> None:
        """Take no picture: there is nothing to be seen."""

    def _pictures(self) -> list[bytes]:
        return [
            picture
            for shown in self._client.shown()
            if shown.control["_c"] == "Image"
            and isinstance(shown.control.get("src"), bytes)
            and (picture := _within(shown))
        ]

    def _tap(self, shown: Shown) -> None:
        control = shown.control
        if control["_c"] == "TextField":
            self._client.focus(control)
            return
        # A tap beside a field takes the cursor out of it, before it counts.
        self._client.focus(None)
        name = next(name for name in _TAPS if control.get(f"on_{name}"))
        self._client.event(control, name)

    def _write(self, entry: Control, text: str) -> None:
        self._client.focus(entry)
        self._client.set(entry, value=text)
        self._client.event(entry, "change", text)

    def _press(self, key: str) -> None:
        keys = {"shift": False, "ctrl": False, "alt": False, "meta": False}
        self._client.event(self._client.page, "keyboard_event", {"key": key, **keys})
        entry = next(
            (
                shown.control
                for shown in self._client.shown()
                if shown.control["_i"] == self._client.focused
            ),
            None,
        )
        if entry is not None and entry["_c"] == "KeyboardListener":
            self._press_in(entry, key)
            return
        if key != "Enter" or entry is None:
            return
        said = entry.get("value", "")
        if entry.get("multiline"):
            self._write(entry, f"{said}\n")
        else:
            self._client.event(entry, "submit", said)
            self._client.focus(None)

    def _press_in(self, listener: Control, key: str) -> None:
        """Press and let go a key, with another one held as in ``Shift+ArrowUp``."""
        held = key.split("+")
        for event, names in (("key_down", held), ("key_up", reversed(held))):
            for name in names:
                # As Flutter calls them: "Arrow Up", "Shift Left".
                said = {"Shift": "Shift Left"}.get(
                    name, name.replace("Arrow", "Arrow ")
                )
                self._client.event(listener, event, {"key": said})

    def _names(self, start: str) -> Iterator[str]:
        for shown in self._client.shown():
            identifier = shown.control.get("identifier") or ""
            if identifier.startswith(start):
                yield identifier

    def _all(self, identifier: str) -> Iterator[Shown]:
        for shown in self._client.shown():
            if shown.control.get("identifier") == identifier:
                yield shown

    def _find(self, identifier: str) -> Shown | None:
        return next(self._all(identifier), None)

    def _within(self, shown: Shown) -> Iterator[Shown]:
        depth = len(shown.around)
        for inner in self._client.shown():
            around = (*inner.around[depth : depth + 1], inner.control)
            if around[0] is shown.control:
                yield inner

    def _words(self, shown: Shown) -> Iterator[str]:
        for inner in self._within(shown):
            yield from _said(inner.control)

    def _tappable(self, identifier: str) -> Shown | None:
        found = self._find(identifier)
        if found is None:
            return None
        target = next(filter(_takes_taps, self._within(found)), None)
        return target if target is not None and target.is_enabled else None

    def _entry(self, identifier: str) -> Shown:
        return self._until(
            lambda: self._entry_in(identifier, lambda _: True),
            f"{identifier} is no field that can be typed in now",
        )

    def _entry_in(
        self, identifier: str, fits: Callable[[Control], Any]
    ) -> Shown | None:
        found = self._find(identifier)
        inside = self._within(found) if found else iter(())
        return next(
            (
                shown
                for shown in inside
                if shown.control["_c"] == "TextField"
                and shown.is_enabled
                and fits(shown.control)
            ),
            None,
        )

    def _do(self, act: Callable[[], None]) -> None:
        async def done() -> None:
            act()
            await self._app.come_to_rest()

        self._app.run(done())

    def _look(self, look: Callable[[], T]) -> T:
        async def looked() -> T:
            await self._app.come_to_rest()
            return look()

        return self._app.run(looked())

    def _until(self, look: Callable[[], T | None], problem: str) -> T:
        async def waited() -> T:
            last = self._app_time() + PATIENCE_SECONDS
            while True:
                await self._app.come_to_rest()
                if found := look():
                    return found
                self._client.changed.clear()
                try:
                    async with asyncio.timeout(last - self._app_time()):
                        await self._client.changed.wait()
                except TimeoutError:
                    here = self._all_said()
                    raise AssertionError(f"{problem}; here is: {here}") from None

        return self._app.run(waited())

    @staticmethod
    def _app_time() -> float:
        return asyncio.get_running_loop().time()

    def _all_said(self) -> str:
        said = []
        for shown in self._client.shown():
            if name := shown.control.get("identifier"):
                said.append(f"[{name}]")
            said.extend(_said(shown.control))
        return " ".join(said)


def _within(shown: Shown) -> bytes:
    """Cut out of a picture what the place that holds it shows; maybe nothing."""
    content, place = shown.control["src"], shown.around[-1]
    if place["_c"] != "Container" or "top" not in place:
        return content
    height, side = shown.control.get("height", 0), shown.control.get("width", 0)
    if not 0 <= -place["top"] < height:
        return b""
    picture, cut = Image.open(io.BytesIO(content)), io.BytesIO()
    above = round(-place["top"] / height * picture.height)
    below = above + round(side / height * picture.height)
    picture.crop((0, above, picture.width, below)).save(cut, "PNG")
    return cut.getvalue()


def _said(control: Control) -> Iterator[str]:
    """Give what one control says itself: its words, its label, its problem."""
    if control["_c"] in ("Text", "TextSpan"):
        spans = "".join(one.get("text", "") for one in control.get("spans", []))
        yield f"{control.get('value', '')}{spans}"
    for name in (*_SPOKEN, "content"):
        if isinstance(said := control.get(name), str):
            yield said
    if said := control.get("error") or control.get("helper"):
        yield str(said)


@contextlib.contextmanager
def opened(
    *arguments: str, folder: Path | None = None, size: dict[str, int] = PHONE
) -> Iterator[InProcessDriver]:
    """Start an app with a page at its first screen; it ends with the block."""
    app = InProcessApp(*arguments, folder=folder)
    try:
        driver = InProcessDriver(size, [app])
        driver.open(app.first_address())
        yield driver
    finally:
        app.stop()


@contextlib.contextmanager
def unlocked(folder: Path, size: dict[str, int] = PHONE) -> Iterator[InProcessDriver]:
    """Start an app over a set-up store, with a page whose passphrase was given."""
    with opened(folder=folder, size=size) as driver:
        give_passphrase(driver)
        yield driver


def _is_drawing(control: Control) -> bool:
    return control["_c"] == "GestureDetector" and "shapes" in control["content"]


def _takes_taps(shown: Shown) -> bool:
    kind = shown.control["_c"]
    return (
        kind.endswith("Button")
        or kind == "TextField"
        or any(shown.control.get(f"on_{name}") for name in _TAPS)
    )
