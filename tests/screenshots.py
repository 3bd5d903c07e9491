"""Take a picture of every main screen and sheet of the demonstration.

Run as ``python -m tests.screenshots FOLDER [WORD...]``: on a phone and on a laptop, by
day and by night; with words, of those places only whose name holds one of them. What
belongs together lies on one sheet beside it. ``--small`` takes them with the largest
text on a phone of 360 points instead.
"""

import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from PIL import Image, ImageDraw
from playwright.sync_api import Browser, sync_playwright

from tests.browser.conftest import launched
from tests.browser.driver import LAPTOP, PHONE, SMALL, Driver, RunningApp, start_app
from tests.browser.main_screens import (
    CLINIC,
    ENTRY,
    FIELD,
    PAIRED,
    QUESTIONS,
    RESTORE,
    Place,
    act,
    filled_for,
    ids,
    show,
)
from tests.browser.prepared import PASSPHRASE

_TALL = 9000
_COLUMNS, _THUMB = 6, 300
_FRAMES = 12


def main(arguments: list[str]) -> int:
    """Write the pictures and the sheets; say which place was not reached."""
    is_small = "--small" in arguments
    folder, *words = [one for one in arguments if one != "--small"]
    sizes = {"small": SMALL} if is_small else {"phone": PHONE, "laptop": LAPTOP}
    missed: list[str] = []
    with sync_playwright() as playwright:
        browser = launched(playwright.chromium)
        for size, viewport in sizes.items():
            shots = _Shots(Path(folder), size, viewport, missed)
            for computer, places in _PLACES.items():
                kept = [p for p in places if not words or _fits(p, words)]
                if kept and computer in _WALKED:
                    shots.walk(browser, computer, places)
                elif kept:
                    shots.take(browser, computer, kept, is_small=is_small)
        browser.close()
    for name in missed:
        print(name)
    return len(missed)


_PLACES = {
    "demo": FIELD,
    "clinic": CLINIC,
    "paired": PAIRED,
    "questions": QUESTIONS,
    "entry": ENTRY,
    "restore": RESTORE,
}
# Those of an empty folder, in their order and in the colours of a first start.
_WALKED = ("entry", "restore")


def _started(computer: str, folder: Path) -> RunningApp:
    """Start the app of a computer, over a store made for it where it needs one."""
    if computer in ("demo", "clinic"):
        return start_app("--demo", *(["--clinic"] if computer == "clinic" else []))
    return start_app(folder=filled_for(computer, folder))


def _fits(place: Place, words: list[str]) -> bool:
    return any(word in place.name for word in words)


class _Shots:
    def __init__(
        self, folder: Path, size: str, viewport: dict[str, int], missed: list[str]
    ) -> None:
        self.folder, self.size, self.viewport = folder, size, viewport
        self.missed = missed
        folder.mkdir(parents=True, exist_ok=True)

    def walk(self, browser: Browser, computer: str, places: Sequence[Place]) -> None:
        """Take places that follow one another, in the colours of a first start."""
        with tempfile.TemporaryDirectory() as place:
            app = _started(computer, Path(place))
            try:
                driver = Driver(browser.new_page(viewport=self.viewport), self.folder)
                driver.open(app.first_address())
                taken = []
                for one in places:
                    name = f"{one.name}-{self.size}-light"
                    try:
                        for tap in one.taps:
                            act(driver, tap)
                        driver.wait(one.wait)
                    except Exception as error:
                        self.missed.append(f"{name}: {str(error).splitlines()[0]}")
                        break
                    driver.frames(_FRAMES)
                    taken.append(driver.shot(name))
                self._on_sheets(computer, taken)
                driver.page.close()
            finally:
                app.stop()

    def take(
        self,
        browser: Browser,
        computer: str,
        places: list[Place],
        *,
        is_small: bool,
    ) -> None:
        """Take every place in both colours, and put them on sheets."""
        with tempfile.TemporaryDirectory() as place:
            app = _started(computer, Path(place))
            try:
                self._take(browser, app, computer, places, is_small=is_small)
            finally:
                app.stop()

    def _take(
        self,
        browser: Browser,
        app: RunningApp,
        computer: str,
        places: list[Place],
        *,
        is_small: bool,
    ) -> None:
        page = browser.new_page(viewport={**self.viewport, "height": _TALL})
        driver = Driver(page, self.folder)
        driver.open(app.first_address())
        if driver.any_of("examiner", "unlock-secret") == "unlock-secret":
            driver.type("unlock-secret", PASSPHRASE)
            driver.click("unlock-open")
        driver.wait("examiner")
        known = ids(driver)
        driver.go("/settings/looks")
        driver.wait("look-dark")
        if is_small:
            driver.click("size-largest")
        for look in ("dark", "light"):
            page.set_viewport_size({**self.viewport, "height": _TALL})
            driver.go("/settings/looks")
            driver.click(f"look-{look}")
            page.set_viewport_size(self.viewport)
            taken = [self._one(driver, place, known, look) for place in places]
            self._on_sheets(f"{computer}-{look}", list(filter(None, taken)))
            if driver.has("lock-pin"):
                driver.type("lock-pin", "1234")
                driver.click("lock-open")
                driver.gone("lock-pin")
        page.close()

    def _one(
        self, driver: Driver, place: Place, known: dict[str, str], look: str
    ) -> Path | None:
        name = f"{place.name}-{self.size}-{look}"
        try:
            show(driver, place, known)
        except Exception as error:
            self.missed.append(f"{name}: {str(error).splitlines()[0]}")
            return driver.shot(f"{name}-missed")
        driver.frames(_FRAMES)
        return driver.shot(name)

    def _on_sheets(self, name: str, taken: list[Path]) -> None:
        columns = 3 if self.size == "laptop" else _COLUMNS
        width = _THUMB * _COLUMNS // columns
        for number, start in enumerate(range(0, len(taken), columns * 2)):
            some = [Image.open(path) for path in taken[start : start + columns * 2]]
            height = width * some[0].height // some[0].width
            sheet = Image.new("RGB", (columns * width, 2 * height), "#808080")
            for place, picture in enumerate(some):
                corner = (place % columns * width, place // columns * height)
                sheet.paste(picture.resize((width - 6, height - 6)), corner)
                label = taken[start + place].stem
                ImageDraw.Draw(sheet).text(corner, label, fill="#FF00FF")
            sheet.save(self.folder / f"sheet-{self.size}-{name}-{number}.png")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
