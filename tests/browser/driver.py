"""Drive the app as a person would, by the identifiers of its controls.

Nothing here sleeps for a fixed time: every step waits for what it needs to see.
"""

import io
import itertools
import os
import re
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import Error as PlaywrightError
from playwright.sync_api import Locator, Page, WebSocket, expect

from tests.browser.forked_app import CAN_FORK, ForkedApp

# What stands in the zone and on the card of the part that is current.
_OF_A_PART = re.compile(
    r"region-(\w+)(\.left|\.right)?-(normal|finding|more|open|rest|warning|before|result-.*)"
)


def line_of(identifier: str) -> str:
    """Name the line that makes a part current, for a control of that part."""
    found = _OF_A_PART.fullmatch(identifier)
    return f"region-{found[1]}-row" if found else ""


ROOT = Path(__file__).resolve().parents[2]
CHEAP_APP = Path(__file__).with_name("cheap_app.py")
PHONE = {"width": 390, "height": 844}
SMALL = {"width": 360, "height": 640}
LAPTOP = {"width": 1280, "height": 800}
# So many frames a hand waits for what comes up by itself, before it looks elsewhere.
COMES_UP = 30
PATIENCE_MS = 20_000
_NAME = "flt-semantics-identifier"
# Flutter gives a field that has the cursor the text it knows, and with it the place of
# the cursor; until then it would take back what is typed.
_MARK_WHAT_FLUTTER_TOOK_OVER = """
for (const {prototype} of [HTMLInputElement, HTMLTextAreaElement]) {
    const place = prototype.setSelectionRange;
    prototype.setSelectionRange = function (...range) {
        this.takenOver = true;
        return place.apply(this, range);
    };
}
addEventListener('blur', event => { event.target.takenOver = false; }, true);
"""
_WAIT_TILL_TAKEN_OVER = """async entry => {
    for (let frame = 0; frame < 30 && !entry.takenOver; frame++)
        await new Promise(requestAnimationFrame);
    return Boolean(entry.takenOver);
}"""
# All that a click has to know of a control, in one word with the page: where it is,
# whether it holds something that can be tapped, whether another control is there.
_LOOK = """async ([name, id, other, frames, patience]) => {
    const at = wanted => '[' + name + '="' + wanted + '"]';
    const isThere = wanted => Boolean(wanted && document.querySelector(at(wanted)));
    for (; frames > 0; frames--) await new Promise(requestAnimationFrame);
    for (; patience > 0 && !isThere(id) && !isThere(other); patience--)
        await new Promise(requestAnimationFrame);
    const root = document.querySelector(at(id));
    const {x, y, width, height} = root ? root.getBoundingClientRect() : {};
    const inner = at(id) + ' [role=button], ' + at(id) + ' [flt-tappable]';
    return {
        box: root && {x, y, width, height},
        isInView: Boolean(root) && y >= 0 && y + height <= innerHeight,
        hasTappable: Boolean(document.querySelector(inner)),
        hasOther: isThere(other),
    };
}"""


@dataclass
class RunningApp:
    """A started app: its process, its folder, and new one-time addresses."""

    folder: Path | None
    process: "subprocess.Popen[str] | ForkedApp"
    printed: list[str] = field(default_factory=list)

    def first_address(self) -> str:
        """Read the address printed at the start."""
        return self._read_address()

    def new_address(self) -> str:
        """Ask for one more address, as Enter does."""
        assert self.process.stdin is not None
        self.process.stdin.write("\n")
        self.process.stdin.flush()
        return self._read_address()

    def complaint(self) -> str:
        """Read what an app that ended has written as its error."""
        assert self.process.stderr is not None
        return self.process.stderr.read()

    def killed(self) -> Path | None:
        """End the app at once, and give the folder as it left it."""
        self.process.kill()
        self.process.wait(timeout=20)
        return self.folder

    def stop(self) -> None:
        """End the app and wait for it."""
        self.process.terminate()
        try:
            self.process.wait(timeout=20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait(timeout=20)
        for stream in (
            self.process.stdin,
            self.process.stdout,
            self.process.stderr,
        ):
            if stream is not None:
                stream.close()

    def _read_address(self) -> str:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.printed.append(line.strip())
            if line.startswith("http://"):
                return line.strip()
        raise AssertionError(f"no address was printed: {self.printed}")


def start_app(
    *arguments: str,
    folder: Path | None = None,
    script: Path = CHEAP_APP,
    stderr: bool = False,
) -> RunningApp:
    """Start the app without a browser.

    Args:
        *arguments: Of its command line, beside ``--data`` and ``--no-browser``.
        folder: For ``--data``; none with ``--demo``.
        script: What is started.
        stderr: Whether its errors are kept for ``complaint``.
    """
    data = ["--data", str(folder)] if folder else []
    if CAN_FORK and script == CHEAP_APP:
        arguments = (*data, "--no-browser", *arguments)
        return RunningApp(folder, ForkedApp(arguments, stderr=stderr))
    process = subprocess.Popen(
        [sys.executable, str(script), *data, "--no-browser", *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE if stderr else None,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    return RunningApp(folder, process)


@dataclass
class Driver:
    """One open page of the app.

    Attributes:
        scrolls: How often the wheel was turned to reach something.
    """

    page: Page
    shots: Path
    scrolls: int = field(default=0, init=False)
    _said: list[bytes] = field(default_factory=list, init=False)
    _has_socket: bool = field(default=False, init=False)

    def __post_init__(self) -> None:
        """Let every page opened here say which field Flutter has made its own."""
        self.page.add_init_script(_MARK_WHAT_FLUTTER_TOOK_OVER)
        self.page.on("websocket", self._listen)

    def _listen(self, socket: WebSocket) -> None:
        self._has_socket = True
        socket.on("framesent", self._hear)

    def _hear(self, frame: str | bytes) -> None:
        self._said.append(frame if isinstance(frame, bytes) else frame.encode())

    def open(self, address: str) -> None:
        """Open a one-time address and wait until the app answers to assistive tools."""
        self.page.goto(address)
        self.wake_semantics()

    @property
    def origin(self) -> str:
        """The address of the app, without a path."""
        return "/".join(self.page.url.split("/", 3)[:3])

    @property
    def route(self) -> str:
        """The address of the screen, from its first slash."""
        return "/" + self.page.url.split("/", 3)[3]

    def go(self, path: str) -> None:
        """Go to a screen as the browser's own arrows do, without a reload."""
        self.page.evaluate(
            """path => { history.pushState({}, '', path);
                dispatchEvent(new PopStateEvent('popstate', {state: {}})); }""",
            path,
        )

    def wake_semantics(self) -> None:
        """Ask Flutter for its tree of labels, as a screen reader does."""
        placeholder = self.page.locator("flt-semantics-placeholder")
        placeholder.wait_for(state="attached", timeout=PATIENCE_MS)
        placeholder.dispatch_event("click")

    def find(self, identifier: str) -> Locator:
        """Locate a control by its identifier."""
        return self.page.locator(f'[{_NAME}="{identifier}"]')

    def wait(self, identifier: str) -> Locator:
        """Wait until a control is there; else the failure says what is."""
        found = self.find(identifier)
        try:
            found.first.wait_for(state="attached", timeout=PATIENCE_MS)
        except PlaywrightError as error:
            error.add_note(f"here is, at {self.page.url}: {self._all_said()}")
            raise
        return found

    def _all_said(self) -> str:
        """Give every control that is here by its identifier, with its words."""
        said = self.page.locator(f"[{_NAME}]").evaluate_all(
            f"found => found.map(e => `[${{e.getAttribute('{_NAME}')}}] "
            "${e.innerText || e.ariaLabel || ''}`)"
        )
        return " ".join(" ".join(said).split())

    def names(self, start: str) -> list[str]:
        """Give the identifiers here that start so, as they stand on the page."""
        return [one.get_attribute(_NAME) or "" for one in self._starting(start).all()]

    def named(self, start: str) -> str:
        """Wait for the first control whose identifier starts so, and give it."""
        found = self._starting(start).first
        found.wait_for(state="attached", timeout=PATIENCE_MS)
        return found.get_attribute(_NAME) or ""

    def any_of(self, *identifiers: str) -> str:
        """Wait until one of several controls is there, and say which."""
        wanted = ", ".join(f'[{_NAME}="{name}"]' for name in identifiers)
        found = self.page.locator(wanted).first
        found.wait_for(state="attached", timeout=PATIENCE_MS)
        return found.get_attribute(_NAME) or ""

    def until(self, happened: Callable[[], bool], what: str) -> None:
        """Wait for something that is not to be seen on the page."""
        for _ in range(2000):
            if happened():
                return
            self.frames(1)
        raise AssertionError(f"not {what}")

    def frames(self, count: int) -> None:
        """Let the page be drawn so many times."""
        for _ in range(count):
            self.page.evaluate("() => new Promise(requestAnimationFrame)")

    def is_empty(self, identifier: str) -> bool:
        """Whether a text field is there now, and nothing stands in it."""
        entries = self.find(identifier).locator("input, textarea")
        return "" in entries.evaluate_all("found => found.map(one => one.value)")

    def to_front(self) -> None:
        """Let the browser show this page and no other."""
        self.page.bring_to_front()

    def has(self, identifier: str) -> bool:
        """Whether a control is there now."""
        return self.find(identifier).count() > 0

    def gone(self, identifier: str) -> None:
        """Wait until a control is no longer there; else the failure says what is."""
        try:
            expect(self.find(identifier)).to_have_count(0, timeout=PATIENCE_MS)
        except AssertionError as error:
            error.add_note(f"here is, at {self.page.url}: {self._all_said()}")
            raise

    def bring_up(self, identifier: str) -> bool:
        """Make the part current whose control this is, if it is another's turn.

        Returns:
            Whether its line was tapped for it.
        """
        line = line_of(identifier)
        if not line or self._look(identifier, patience=COMES_UP)["box"]:
            return False
        self._wheel_to(line, until=identifier)
        if self.has(identifier):
            return False
        self._tappable(line).click(timeout=PATIENCE_MS)
        self.wait(identifier)
        return True

    def click(self, identifier: str) -> None:
        """Bring a control into view and click its middle with the mouse."""
        seen = self._look(identifier)
        if not seen["isInView"]:
            self.scroll_to(identifier)
            seen = self._look(identifier)
        self._tappable(identifier, seen).click(timeout=PATIENCE_MS)

    def touch(self, identifier: str) -> None:
        """Touch the middle of a control that is in view, as a thumb does."""
        box = self.wait(identifier).first.bounding_box() or {}
        middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        self.page.touchscreen.tap(*middle)

    def touch_drawing(self, identifier: str, x: float, y: float) -> None:
        """Tap a place of a control that is a picture, in pixels from its corner."""
        box = self.wait(identifier).first.bounding_box() or {}
        self.page.mouse.click(box["x"] + x, box["y"] + y)

    def type(self, identifier: str, text: str) -> None:
        """Replace what stands in a text field.

        The last sign is a real key, so that a text that stood there before counts as
        typed again. A field that was only just drawn can still be drawn anew, and the
        text is then given again, from the first tap on.
        """
        self.scroll_to(identifier)
        entry = self.find(identifier).locator("input, textarea").first
        for attempt in range(20):
            entry.focus(timeout=PATIENCE_MS)
            if not entry.evaluate(_WAIT_TILL_TAKEN_OVER) or attempt:
                # Drawn anew while it had the cursor, the field has it in the page and
                # no longer in Flutter: what is typed reaches nobody. A tap gives both.
                entry.click(timeout=PATIENCE_MS)
                entry.evaluate(_WAIT_TILL_TAKEN_OVER)
            self._forget_what_was_sent()
            entry.fill(text[:-1])
            entry.press_sequentially(text[-1:])
            self.frames(3)
            if entry.input_value() == text and self._has_reached_the_app(text):
                return
            # Begun anew, as by a hand that taps beside it and comes back.
            entry.blur(timeout=PATIENCE_MS)
        expect(entry).to_have_value(text, timeout=PATIENCE_MS)

    def _has_reached_the_app(self, text: str) -> bool:
        """Whether the page has sent this text on, now or some frames later."""
        for _ in range(40):
            if self._has_sent(text):
                return True
            self.frames(1)
        return False

    def _has_sent(self, text: str) -> bool:
        """Whether the page has sent this text; one without a socket cannot say."""
        return not self._has_socket or any(text.encode() in one for one in self._said)

    def _forget_what_was_sent(self) -> None:
        self._said.clear()

    def value(self, identifier: str) -> str:
        """Read what stands in a text field; Flutter tells only a focused one.

        One that is drawn anew meanwhile has the cursor no longer, and gets it again.
        """
        entry = self.wait(identifier).locator("input, textarea").first
        said: list[str] = []

        def look() -> bool:
            entry.focus(timeout=PATIENCE_MS)
            said.append(entry.input_value(timeout=PATIENCE_MS))
            return said[-1] != ""

        self.until(look, f"a text in {identifier}")
        return said[-1]

    def press(self, key: str) -> None:
        """Press a key where the cursor is."""
        self.page.keyboard.press(key)

    def scroll_to(self, identifier: str) -> None:
        """Turn the wheel until the control is in view.

        Rows far from the window are not in the tree before they come near.
        """
        self.bring_up(identifier)
        self._wheel_to(identifier)
        self.wait(identifier)

    def _wheel_to(self, identifier: str, until: str = "") -> None:
        size = self.page.viewport_size or LAPTOP
        # Over the list, also where it is the first of several panes.
        self.page.mouse.move(size["width"] / 4, size["height"] / 2)
        seen = self._look(identifier, until, patience=COMES_UP)
        for further in (240,) * 60 + (-240,) * 60:
            if seen["isInView"] or seen["hasOther"]:
                return
            box = seen["box"]
            step = (-240 if box["y"] < 0 else 240) if box else further
            self.scrolls += 1
            self.page.mouse.wheel(0, step)
            seen = self._look(identifier, until, frames=1)

    def text(self, identifier: str) -> str:
        """Read everything a control says, visible text and labels."""
        self.wait(identifier)
        return self.find(identifier).first.evaluate(
            """root => [root, ...root.querySelectorAll('*')].map(node =>
                [node.getAttribute('aria-label') || '',
                 ...[...node.childNodes].filter(n => n.nodeType === 3)
                    .map(n => n.data)].join(' ')).join('\\n')"""
        )

    def wait_text(self, identifier: str, text: str) -> None:
        """Wait until a control says something."""
        self.page.wait_for_function(
            """([id, text]) => [...document.querySelectorAll(
                '[flt-semantics-identifier="' + id + '"]')].some(root =>
                [root, ...root.querySelectorAll('*')].some(node =>
                  ((node.getAttribute('aria-label') || '') + node.textContent)
                  .includes(text)))""",
            arg=[identifier, text],
            timeout=PATIENCE_MS,
        )

    def read_down_to(self, words: str) -> None:
        """Turn the wheel until the page shows these words.

        Rows far from the window are left out of the tree, so a second reading begins
        at the top again.
        """
        found = self.page.get_by_text(words).or_(self.page.get_by_label(words))
        size = self.page.viewport_size or LAPTOP
        self.page.mouse.move(size["width"] / 2, size["height"] / 2)
        last = time.monotonic() + PATIENCE_MS / 1000
        down_and_up = [240] * 80 + [-2400] * 8 + [160] * 120 + [-2400] * 8
        for step in itertools.cycle(down_and_up):
            if found.count():
                return
            if time.monotonic() > last:
                break
            self.page.mouse.wheel(0, step)
            self.frames(2)
        raise AssertionError(f"nothing here says {words!r}")

    def pictures(self) -> list[bytes]:
        """Give one picture, in which is everything that is shown."""
        return [self.page.screenshot()]

    def choose(self, identifier: str, files: list[Path]) -> None:
        """Tap a control and give these files to the window that it opens."""
        with self.page.expect_file_chooser() as chooser:
            self.click(identifier)
        chooser.value.set_files(files)

    def download(self, identifier: str) -> tuple[str, bytes]:
        """Tap a control and take the file that it offers: its name and content."""
        with self.page.expect_download() as saved:
            self.click(identifier)
        return saved.value.suggested_filename, saved.value.path().read_bytes()

    def corner_brightness(self) -> int:
        """Measure the ground's brightness in a corner, from 0 to 255."""
        picture = Image.open(io.BytesIO(self.page.screenshot())).convert("L")
        return int(picture.getpixel((2, picture.height - 3)))

    def is_plain(self, left: int, right: int) -> bool:
        """Whether nothing is drawn between two distances from the left."""
        picture = Image.open(io.BytesIO(self.page.screenshot())).convert("RGB")
        part = picture.crop((left, 0, right, picture.height))
        return len(part.getcolors(part.width * part.height) or ()) == 1

    def shot(self, name: str) -> Path:
        """Take a picture of what is shown now."""
        path = self.shots / f"{name}.png"
        self.page.screenshot(path=path)
        return path

    def _starting(self, start: str) -> Locator:
        return self.page.locator(f'[{_NAME}^="{start}"]')

    def _tappable(self, identifier: str, seen: dict[str, Any] | None = None) -> Locator:
        seen = seen or self._look(identifier)
        found = self.find(identifier)
        inner = found.locator("[role=button], [flt-tappable]")
        return inner.first if seen["hasTappable"] else found.first

    def _look(
        self, identifier: str, other: str = "", *, frames: int = 0, patience: int = 0
    ) -> dict[str, Any]:
        """Look where a control is now, or after some frames.

        Args:
            identifier: Of the control.
            other: Of one more, of which only is asked whether it is there.
            frames: How many are let pass before.
            patience: How many more, at most, until one of both is there.
        """
        asked = [_NAME, identifier, other, frames, patience]
        seen: dict[str, Any] = self.page.evaluate(_LOOK, asked)
        return seen
