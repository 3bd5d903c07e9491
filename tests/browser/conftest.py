"""Start the real app and a real Chromium for each test that needs them."""

import contextlib
import os
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from unittest import mock

import pytest
from playwright.sync_api import (
    Browser,
    BrowserContext,
    BrowserType,
    Page,
    Request,
    sync_playwright,
)

from exam_app.app import typed_entries
from exam_app.phone.building import Built
from exam_app.phone.serving import Host
from exam_app.ui.clinic import receive, review
from tests.browser.cheap_app import as_environment_asks
from tests.browser.driver import LAPTOP, PHONE, Driver, RunningApp, start_app
from tests.browser.in_process import InProcessApp, InProcessDriver
from tests.browser.phone_app import (
    PhoneBrowser,
    built_or_skipped,
    give_out,
    take_away,
)
from tests.browser.prepared import prepare_folder
from tests.conftest import find_chromium

IN_PROCESS, CHROMIUM = "in_process", "chromium"
HEADLESS_FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    # As in tests/browser/phone_app.py: a phone's browser says where it is.
    "--accept-lang=en-GB",
    "--lang=en-GB",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-domain-reliability",
    # In the place of the driver's own list, which also switches off that a new page
    # gets a new frame, as it does for people: the page before then kept its connection
    # now and then, and the new one was told that the exams are open in another tab.
    "--disable-features=MediaRouter,OptimizationHints,Translate",
)

# The first walk to ask may have moved TMPDIR, too deep for a browser's socket.
TEMPORARY = tempfile.gettempdir()


def launched(chromium: BrowserType, *flags: str) -> Browser:
    """Start a Chromium that asks nobody outside; the caller closes it."""
    return chromium.launch(
        executable_path=find_chromium(),
        headless=True,
        args=[*HEADLESS_FLAGS, *flags],
        env={**os.environ, "TMPDIR": TEMPORARY},
    )


@pytest.fixture(scope="session")
def shots() -> Path:
    """Where pictures go: EXAM_SHOTS, or a folder that git does not see."""
    folder = Path(os.environ.get("EXAM_SHOTS", "build/shots"))
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    if find_chromium() is None:
        pytest.skip("no Chromium on this machine")
    with sync_playwright() as playwright:
        browser = launched(playwright.chromium)
        yield browser
        browser.close()


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Let a walk run in this process and in Chromium, or where alone it can."""
    if "walked_in" in metafunc.fixturenames:
        is_alone = metafunc.definition.get_closest_marker("chromium_only")
        ways = [CHROMIUM] if is_alone else [IN_PROCESS, CHROMIUM]
        metafunc.parametrize("walked_in", ways, indirect=True)


@pytest.fixture
def walked_in(request: pytest.FixtureRequest) -> str:
    """Say where this walk is walked: in this process or in Chromium."""
    return request.param


@pytest.fixture
def started(walked_in: str) -> Iterator[list[RunningApp | InProcessApp]]:
    """The apps that were started; all end with the test."""
    apps: list[RunningApp | InProcessApp] = []
    yield apps
    for app in apps:
        app.stop()


@pytest.fixture
def run_app(
    walked_in: str, started: list[RunningApp | InProcessApp]
) -> Iterator[Callable[..., RunningApp | InProcessApp]]:
    """Start any number of apps, in this process or each in one of its own."""
    changed = contextlib.ExitStack()

    def run(
        *arguments: str, folder: Path | None = None, stderr: bool = False
    ) -> RunningApp | InProcessApp:
        if walked_in == CHROMIUM:
            app = start_app(*arguments, folder=folder, stderr=stderr)
        else:
            if not started:
                changed.enter_context(as_environment_asks())
                # Nobody types here whom each save would hold up, nor reads a record,
                # nor brings a file while a folder is looked into.
                for owner, name, seconds in (
                    (typed_entries, "DELAY_SECONDS", 0.01),
                    (review, "UNREAD_SECONDS", 0.0),
                    (receive, "EVERY_SECONDS", 0.2),
                ):
                    changed.enter_context(mock.patch.object(owner, name, seconds))
            app = InProcessApp(*arguments, folder=folder)
        started.append(app)
        return app

    with changed:
        yield run


@pytest.fixture
def requests_seen() -> list[str]:
    """Every address that any page of this test asked for."""
    return []


@pytest.fixture
def open_page(
    request: pytest.FixtureRequest,
    walked_in: str,
    started: list[RunningApp | InProcessApp],
    shots: Path,
    requests_seen: list[str],
) -> Iterator[Callable[..., Driver | InProcessDriver]]:
    """Open pages in a context of their own, as a phone or as a laptop."""
    if walked_in == IN_PROCESS:
        yield lambda size, **_: InProcessDriver(size, started)
        return
    chromium: Browser = request.getfixturevalue("chromium")
    contexts: list[BrowserContext] = []

    def note(request: Request) -> None:
        requests_seen.append(request.url)

    def make(
        size: dict[str, int], *, like: Driver | None = None, pixels: float = 1
    ) -> Driver:
        if like is None:
            context = chromium.new_context(
                viewport=size,
                has_touch=size == PHONE,
                is_mobile=False,
                # Without graphics, painting is two fifths of a walk: one that asks
                # what is said, and not how it looks, needs fewer pixels to a point.
                device_scale_factor=pixels,
            )
            context.on("request", note)
            contexts.append(context)
        else:
            context = like.page.context
        page: Page = context.new_page()
        return Driver(page, shots)

    yield make
    for context in contexts:
        context.close()
    foreign = [u for u in requests_seen if not u.startswith(_LOCAL)]
    assert not foreign, f"the page asked for something outside: {foreign}"


# A browser's own viewer of PDF is made of files that lie in the browser.
_VIEWER = (
    "chrome://resources/",
    "chrome-extension://mhjfbmdgcfjbbpaeojofohoefgiehjai/",
)
_LOCAL = (
    *("http://127.0.0.1:", "blob:http://127.0.0.1:", "data:", "about:blank"),
    *_VIEWER,
)


@pytest.fixture
def phone(open_page: Callable[..., Driver]) -> Driver:
    return open_page(PHONE)


@pytest.fixture
def laptop(open_page: Callable[..., Driver]) -> Driver:
    return open_page(LAPTOP)


@pytest.fixture
def prepared(tmp_path: Path, run_app: Callable[..., RunningApp]) -> RunningApp:
    """An app over a set-up store: passphrase, two people, their PINs."""
    return run_app(folder=prepare_folder(tmp_path / "exams"))


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """The phone's app, built once for all tests of it."""
    return built_or_skipped(tmp_path_factory.mktemp("phone") / "app")


@pytest.fixture
def phone_browser(
    chromium: Browser, tmp_path: Path, shots: Path
) -> Iterator[PhoneBrowser]:
    """A browser that can be killed, with everything it keeps in one folder."""
    browser = PhoneBrowser(tmp_path / "profile", chromium.browser_type, shots)
    browser.profile.mkdir()
    browser.start()
    yield browser
    browser.kill()
    foreign = [a for a in browser.asked if not a.startswith(_LOCAL)]
    assert not foreign, f"the page asked for something outside: {foreign}"


@pytest.fixture
def host(built: Built) -> Iterator[Host]:
    """The built app, given out on this machine until the test takes it away."""
    host = give_out(built.folder)
    yield host
    with contextlib.suppress(OSError):
        take_away(host)


@pytest.fixture
def give_out_started(tmp_path: Path) -> Iterator[Callable[[str], str]]:
    """Give out the app with another first module; returns its address."""
    hosts: list[Host] = []

    def give(start: str) -> str:
        hosts.append(give_out(built_or_skipped(tmp_path / "app", start).folder))
        return f"http://127.0.0.1:{hosts[-1].port}/"

    yield give
    for host in hosts:
        take_away(host)
