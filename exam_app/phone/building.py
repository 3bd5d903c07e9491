"""Build the app for a phone: one folder that any static host can give out.

Everything comes from installed packages, and from wheels that are named with their
hashes. The same sources give the same bytes: names sorted, no times, one compression.
There is no list of requirements in it, since the page would ask an index for them. A
build is made beside its folder and put in place when it is whole.
"""

import base64
import gzip
import hashlib
import html
import json
import shutil
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from exam_app.phone.errors import (
    BuildFolderUnwritableError,
    FolderInTheWayError,
    PartsNotFetchedError,
)
from exam_app.resources import fallback_font
from exam_app.web_client import (
    CLIENT_MODULE,
    CLIENT_SCRIPT,
    FONT_LIST,
    ClientChangedError,
    ServedTo,
    changed_scripts,
    client_folder,
    font_list,
    module_without_foreign_requests,
    script_served,
)

LIST = Path(__file__).with_name("wheels.txt")
# The platform tag of the Pyodide that lies in the web client's own package.
_OPTIONS = (
    "--quiet",
    "--disable-pip-version-check",
    "--no-deps",
    "--only-binary=:all:",
    "--require-hashes",
    "--python-version=3.14",
    "--implementation=cp",
    "--abi=cp314",
    "--abi=abi3",
    "--abi=none",
    "--platform=pyemscripten_2026_0_wasm32",
)


def fetch_wheels(folder: Path) -> list[Path]:
    """Fetch every wheel of the list with pip, checked by its SHA-256.

    Args:
        folder: Where they are put; must exist. What pip has kept is not fetched again.

    Returns:
        The wheels, in the order of their names.

    Raises:
        PartsNotFetchedError: No network, no pip, or another file than the one tried.
    """
    command = [sys.executable, "-m", "pip", "download", *_OPTIONS]
    command += ["--dest", str(folder), "--requirement", str(LIST)]
    done = subprocess.run(  # noqa: S603  our own list, no shell
        command, capture_output=True, text=True, check=False
    )
    wheels = sorted(folder.glob("*.whl"))
    wanted = [line for line in LIST.read_text("utf-8").splitlines() if "==" in line]
    if done.returncode or len(wheels) != len(wanted):
        lines = done.stderr.strip().splitlines() or ["no answer"]
        raise PartsNotFetchedError(lines[-1])
    return wheels


_CLIENT_LEFT_OUT = (
    "*.map",
    "index.html",
    "manifest.json",
    "favicon.png",
    "flutter.js",
    "flutter_service_worker.js",
    "icons",
    "canvaskit/*.symbols",
    "canvaskit/chromium",
    "canvaskit/experimental_webparagraph",
    "canvaskit/*skwasm_heavy*",
    "canvaskit/wimp*",
    "assets/packages/cupertino_icons",
    "assets/packages/flutter_map",
    "assets/packages/flutter_math_fork",
    "assets/packages/media_kit",
    "assets/packages/record_web",
    "python.js",
    "python-worker.js",
    "pyodide/*.d.ts",
    "pyodide/*.whl",
    "pyodide/pyodide.js",
    "pyodide/python",
    "pyodide/python.bat",
    "pyodide/python.exe",
    "pyodide/python_cli_entry.mjs",
)


def copy_client(target: Path) -> None:
    """Copy the web client into a folder that does not exist yet.

    The client and its Python come from one installed package; nothing is compiled here
    and no content network is named. Its own service worker is left out, and its
    bootstrap is told to use, of the graphics parts for scripts, the one that every
    browser runs.

    Raises:
        ClientChangedError: A part that is changed here is not as expected.
        OSError: The system refused.
    """
    shutil.copytree(client_folder(), target)
    for pattern in _CLIENT_LEFT_OUT:
        found = list(target.glob(pattern))
        if not found:
            raise ClientChangedError(pattern)
        for path in found:
            shutil.rmtree(path) if path.is_dir() else path.unlink()
    (target / FONT_LIST).write_text(font_list(), "utf-8")
    for name in changed_scripts(ServedTo.PHONE):
        script = target / name
        served = script_served(name, script.read_text("utf-8"), ServedTo.PHONE)
        script.write_text(served, "utf-8")
    module = target / CLIENT_MODULE
    module.write_bytes(module_without_foreign_requests(module.read_bytes()))


_PACKAGE = Path(__file__).resolve().parents[1]
# Started by the page. Where tests need other costs or folders they give their own.
START = "from exam_app.ui.server.phone_page import start\n\nstart()\n"
_LEFT_OUT = ("phone/", "native/", "register/", "__main__.py", "_bundled/")
_UNUSED_ENDINGS = (".dart", ".pyi", ".c", ".h", ".pyx", ".pxd", ".so.map", "/RECORD")
_NO_TIME = (1980, 1, 1, 0, 0, 0)


def write_archive(target: Path, wheels: Iterable[Path], start: str = START) -> None:
    """Write the archive, which the page runs from a module with the text ``start``.

    Wheels are unpacked into it; tests and sources of native parts are left out.
    """
    members: dict[str, bytes] = {"phone_start.py": start.encode()}
    members.update(_own_code())
    for wheel in wheels:
        members.update(_unpacked(wheel))
    with zipfile.ZipFile(target, "w") as archive:
        for name in sorted(members):
            entry = zipfile.ZipInfo(name, _NO_TIME)
            entry.external_attr = 0o644 << 16
            entry.create_system = 3
            archive.writestr(entry, members[name], zipfile.ZIP_DEFLATED, 9)


def _own_code() -> Iterator[tuple[str, bytes]]:
    for package in (_PACKAGE, _sync_package()):
        for path in package.rglob("*"):
            inside = path.relative_to(package).as_posix()
            is_code = path.suffix in (".py", ".toml", ".txt", ".mo") and path.is_file()
            if is_code and not inside.startswith(_LEFT_OUT):
                yield f"{package.name}/{inside}", path.read_bytes()


def _sync_package() -> Path:
    import sync  # noqa: PLC0415  only its place is wanted

    return Path(sync.__path__[0]).resolve()


def _unpacked(wheel: Path) -> Iterator[tuple[str, bytes]]:
    with zipfile.ZipFile(wheel) as packed:
        for name in packed.namelist():
            is_unused = name.endswith(_UNUSED_ENDINGS) or "/tests/" in name
            if not name.endswith("/") and not is_unused:
                yield f"__pypackages__/{name}", packed.read(name)


KEEPER = "keeper.js"
# A phone fetches what its browser draws with, and not the other.
_DRAWN_BY = {
    "skwasm": (
        CLIENT_MODULE,
        "main.dart.mjs",
        "canvaskit/skwasm.js",
        "canvaskit/skwasm.wasm",
    ),
    "canvaskit": (
        CLIENT_SCRIPT,
        "canvaskit/canvaskit.js",
        "canvaskit/canvaskit.wasm",
    ),
}
_STATIC = Path(__file__).with_name("static")
_COPIED = (
    "able.js",
    "start.js",
    "python.js",
    "worker.js",
    "compiled.js",
    "loading.js",
    "snapshot.js",
    "primitives.js",
    "codes.js",
    "pictures.js",
    "zxing_reader.js",
    "zxing_reader.wasm",
    "manifest.json",
    "LICENSES.txt",
)
# The page, its worker and everything in it: own files, compiled WebAssembly, and no
# connection to anywhere but the place the app itself came from.
POLICY = (
    "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; "
    "style-src 'self' 'unsafe-inline'; connect-src 'self' blob: data:; "
    "img-src 'self' blob: data:; font-src 'self' data:; media-src 'self' blob: data:; "
    "worker-src 'self'; manifest-src 'self'; object-src 'none'; base-uri 'self'; "
    "form-action 'none'"
)


@dataclass(frozen=True, slots=True)
class Built:
    """A finished build.

    Attributes:
        folder: Where it is.
        file_count: Files in it.
        size: Bytes of all files.
        release: The first 12 digits of the hash over all files' hashes and over the
            keeper's own text; the app says it on the phone.
    """

    folder: Path
    file_count: int
    size: int
    release: str

    def compressed_size(self) -> int:
        """Work out the bytes that one phone fetches at most, as sent with gzip.

        It takes seconds.
        """
        return most_fetched(sent_sizes(self.folder))


def sent_sizes(folder: Path) -> dict[str, int]:
    """Work out the bytes of each file of a build, as sent with gzip; takes seconds."""
    return {
        path.relative_to(folder).as_posix(): len(gzip.compress(path.read_bytes(), 6))
        for path in folder.rglob("*")
        if path.is_file()
    }


def most_fetched(sizes: Mapping[str, int]) -> int:
    """Add up what one phone fetches at most, as it keeps one way of drawing only."""
    least = min(sum(sizes[name] for name in names) for names in _DRAWN_BY.values())
    return sum(sizes.values()) - least


def build_app(
    folder: Path, tell: Callable[[str], None] = print, start: str = START
) -> Built:
    """Build into a folder that is empty, missing, or an earlier build.

    Args:
        folder: Put in place at the end, as a whole.
        tell: Told what is being done, a line each time.
        start: The text of the archive's first module.

    Raises:
        FolderInTheWayError: Other files are in it.
        PartsNotFetchedError: The wheels could not be fetched.
        ClientChangedError: The installed web client is another one.
        BuildFolderUnwritableError: The system refused.
    """
    _check_folder(folder)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(
            dir=folder.parent, prefix=".exam-phone-"
        ) as place:
            made = Path(place) / "app"
            release = _make(made, Path(place), tell, start)
            built = _measure(made, folder, release)
            if folder.exists():
                shutil.rmtree(folder)
            made.rename(folder)
    except OSError as error:
        raise BuildFolderUnwritableError(str(folder)) from error
    return built


def _check_folder(folder: Path) -> None:
    if folder.is_file():
        raise FolderInTheWayError(str(folder))
    if folder.is_dir() and any(folder.iterdir()) and not (folder / KEEPER).is_file():
        raise FolderInTheWayError(str(folder))


def _make(made: Path, place: Path, tell: Callable[[str], None], start: str) -> str:
    tell("Copying the web client …")
    copy_client(made)
    tell("Fetching the Python packages for the browser …")
    wheels = place / "wheels"
    wheels.mkdir()
    write_archive(made / "app.zip", fetch_wheels(wheels), start)
    tell("Adding the app's own parts …")
    (made / "fonts").mkdir()
    (made / "fonts/DejaVuSans.ttf").write_bytes(fallback_font())
    shutil.copytree(_STATIC / "icons", made / "icons")
    for name in _COPIED:
        shutil.copyfile(_STATIC / name, made / name)
    page = (_STATIC / "index.html").read_text("utf-8")
    policy = html.escape(POLICY, quote=True).replace("&#x27;", "'")
    (made / "index.html").write_text(page.replace("__POLICY__", policy), "utf-8")
    return _write_keeper(made)


def _write_keeper(made: Path) -> str:
    files = {
        path.relative_to(made).as_posix(): _integrity(path)
        for path in sorted(made.rglob("*"))
        if path.is_file()
    }
    text = (_STATIC / KEEPER).read_text("utf-8")
    text = text.replace("__FILES__", json.dumps(files, indent=1))
    text = text.replace("__DRAWN_BY__", json.dumps(_DRAWN_BY, indent=1))
    policy = json.dumps(f"{POLICY}; frame-ancestors 'none'")
    text = text.replace("__POLICY__", policy)
    # Over everything but itself.
    release = hashlib.sha256(text.encode()).hexdigest()[:12]
    (made / KEEPER).write_text(text.replace("__RELEASE__", release), "utf-8")
    return release


def _integrity(path: Path) -> str:
    digest = hashlib.sha256(path.read_bytes()).digest()
    return f"sha256-{base64.b64encode(digest).decode()}"


def _measure(made: Path, folder: Path, release: str) -> Built:
    sizes = [p.stat().st_size for p in made.rglob("*") if p.is_file()]
    return Built(
        folder=folder,
        file_count=len(sizes),
        size=sum(sizes),
        release=release,
    )
