"""Other releases of the phone's app, hosts that give them out badly, who answers."""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

from exam_app.phone import building
from exam_app.phone.building import Built
from exam_app.phone.serving import Sent, read_build
from tests.browser.driver import ROOT

# The first commit whose build was walked in a browser.
FIRST_RELEASE = "fe3aa99"
ASKED_BY_THE_FIRST = "https://cdn.jsdelivr.net/npm/@rive-app/"
_BUILD = """
import sys
from pathlib import Path
from exam_app.phone.building import build_app
build_app(Path(sys.argv[1]))
"""
# Texts of every kind that a page or a worker runs; what is put behind changes nothing.
CHANGED = {
    "LICENSES.txt": "\n{}\n",
    "able.js": "\n// {}\n",
    "codes.js": "\n// {}\n",
    "index.html": "<!-- {} -->\n",
    "python.js": "\n// {}\n",
    "start.js": "\n// {}\n",
    "worker.js": "\n// {}\n",
}
LOGIN = Sent(
    "text/html; charset=utf-8",
    b"<!doctype html><title>Guests</title><h1>Please log in to the network</h1>",
    None,
)
# As the page itself asks; then waits until the browser has decided.
_ASK = """async () => {
  const registration = await navigator.serviceWorker.getRegistration();
  try {
    await registration.update();
  } catch (error) {
    return "refused";
  }
  const coming = registration.installing;
  if (!coming) return registration.waiting ? "waits" : "nothing";
  return new Promise((resolve) => {
    const look = () => {
      if (coming.state === "installed") resolve("waits");
      if (coming.state === "redundant") resolve("refused");
    };
    coming.onstatechange = look;
    look();
  });
}"""
_WAITS = """async () =>
  Boolean((await navigator.serviceWorker.getRegistration()).waiting)"""
_ANSWERS = """async () => {
  const answer = await fetch("/app.zip");
  const hash = await crypto.subtle.digest("SHA-256", await answer.arrayBuffer());
  return [...new Uint8Array(hash)].map(b => b.toString(16).padStart(2, "0")).join("");
}"""
_KEPT = """async () =>
  (await (await caches.open("exam-files")).keys()).map((one) => one.url).sort()"""
_TOLD = "async () => (await fetch('/release')).json()"


def build_first_release(folder: Path) -> Path | None:
    """Build the app as it was; None where the clone does not reach back so far."""
    sources = folder / "sources"
    sources.mkdir(parents=True)
    packed = subprocess.run(
        ["git", "-C", str(ROOT), "archive", FIRST_RELEASE],
        capture_output=True,
        check=False,
    )
    if packed.returncode:
        return None
    subprocess.run(["tar", "-x", "-C", str(sources)], input=packed.stdout, check=True)
    subprocess.run(
        [sys.executable, "-c", _BUILD, str(folder / "app")],
        cwd=sources,
        env={**os.environ, "PYTHONPATH": str(sources)},
        check=True,
    )
    return folder / "app"


def excuse_the_first(asked: list[str]) -> None:
    """Take out what the first release asked of a content network, in vain.

    Today's release asks for nothing there, and what it asks is noted after this.
    """
    asked[:] = [one for one in asked if not one.startswith(ASKED_BY_THE_FIRST)]


def changed_release(built: Built, folder: Path, mark: str) -> str:
    """Make a release of other bytes beside a build, and return its digits."""
    shutil.copytree(built.folder, folder)
    (folder / building.KEEPER).unlink()
    for name, form in CHANGED.items():
        with (folder / name).open("a", encoding="utf-8") as file:
            file.write(form.format(mark))
    return building._write_keeper(folder)


class CutOff(dict[str, Sent]):
    """A host's files, of which it gives out some before the network is gone.

    Attributes:
        left: How many changed files it still gives out.
        given: The changed files that it gave out.
    """

    def __init__(self, files: Mapping[str, Sent], left: int) -> None:
        super().__init__(files)
        self.left = left
        self.given: list[str] = []

    def get(self, path: str, default: Sent | None = None) -> Sent | None:
        """Give a file out, or drop the connection."""
        if path.strip("/") in CHANGED:
            if self.left == 0:
                raise ConnectionAbortedError(path)
            self.left -= 1
            self.given.append(path)
        return super().get(path, default)


class Portal(dict[str, Sent]):
    """A network that answers everything with its own page, but for what it lets by."""

    def get(self, path: str, default: Sent | None = None) -> Sent:
        """Answer 200 to whatever is asked."""
        return super().get(path, default) or LOGIN


def faulty(release: Path) -> Iterator[tuple[str, int, Mapping[str, Sent]]]:
    """Give each way in which a host can give a release out wrongly, by its number."""
    for number, (name, spoil) in enumerate(_FAULTS):
        yield name, number, spoil(read_build(release / str(number)))


def _replaced(files: dict[str, Sent], path: str, content: bytes) -> dict[str, Sent]:
    return {**files, path: Sent(files[path].kind, content, None)}


def _flipped(files: dict[str, Sent]) -> dict[str, Sent]:
    content = bytearray(files["/worker.js"].content)
    content[-3] ^= 1
    return _replaced(files, "/worker.js", bytes(content))


def _missing(files: dict[str, Sent]) -> dict[str, Sent]:
    return {path: sent for path, sent in files.items() if path != "/start.js"}


def _truncated(files: dict[str, Sent]) -> dict[str, Sent]:
    return _replaced(files, "/python.js", files["/python.js"].content[:-20])


def _no_script(files: dict[str, Sent]) -> dict[str, Sent]:
    return _replaced(files, "/keeper.js", LOGIN.content)


def _cut_keeper(files: dict[str, Sent]) -> dict[str, Sent]:
    half = files["/keeper.js"].content
    return _replaced(files, "/keeper.js", half[: len(half) // 2])


def _portal(_: dict[str, Sent]) -> Portal:
    return Portal()


def _portal_late(files: dict[str, Sent]) -> Portal:
    return Portal({"/keeper.js": files["/keeper.js"]})


_FAULTS = (
    ("one bit of a file is another", _flipped),
    ("a file is missing", _missing),
    ("a file is cut short", _truncated),
    ("the keeper is no script", _no_script),
    ("the keeper is cut short", _cut_keeper),
    ("the network asks to log in", _portal),
    ("the network asks to log in once the keeper was fetched", _portal_late),
)
FAULT_COUNT = len(_FAULTS)


def ask_for_update(driver) -> str:
    """Let the page look for a newer release: "waits", "refused" or "nothing"."""
    return driver.page.evaluate(_ASK)


def await_waiting(driver) -> None:
    """Wait until a newer release is whole; the page asked for it when it loaded."""
    driver.page.wait_for_function(_WAITS, timeout=60_000)


def code_that_answers(driver) -> str:
    """Hash the app's own code as the page gets it, SHA-256."""
    return driver.page.evaluate(_ANSWERS)


def told_by_keeper(driver) -> dict[str, object]:
    """Ask the keeper which release it answers with, as the app does."""
    told = driver.page.evaluate(_TOLD)
    return {name: told[name] for name in ("release", "newer")}


def kept_files(driver) -> list[str]:
    """Name what the browser keeps of releases; the one look behind the curtain."""
    return driver.page.evaluate(_KEPT)
