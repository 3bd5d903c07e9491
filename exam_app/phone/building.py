"""Build the app for a phone: one folder that any static host can give out.

Everything comes from installed packages, and from wheels that are named with their
hashes. The same sources give the same bytes. A build is made beside its folder and
put in place when it is whole.

The same code gives the same bytes: names sorted, no times, one compression. There is
no list of requirements in it, since the page would ask an index for them.

Drawn by numbers so that no picture has to be kept, and the same bytes every time.
"""

import base64
import gzip
import hashlib
import html
import itertools
import json
import shutil
import struct
import subprocess
import sys
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

from exam_app.phone.client import copy_client
from exam_app.phone.errors import (
    BuildFolderUnwritableError,
    FolderInTheWayError,
    PartsNotFetchedError,
)
from exam_app.resources import fallback_font

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


_Point: TypeAlias = tuple[float, float]
_Stroke: TypeAlias = tuple[_Point, _Point]

GROUND = (11, 74, 102)
SIGN = (255, 255, 255)
# Corners of the pulse line, in parts of the side; the middle 80 % stay visible when
# a launcher cuts a maskable icon to a circle.
_LINE = (
    (0.16, 0.54),
    (0.34, 0.54),
    (0.42, 0.30),
    (0.54, 0.76),
    (0.63, 0.44),
    (0.69, 0.54),
    (0.84, 0.54),
)
_HALF_WIDTH = 0.035
_CORNER = 0.18


def icon_png(side: int, *, is_maskable: bool) -> bytes:
    """Draw the sign.

    Args:
        side: Pixels.
        is_maskable: Whether the ground fills the square, for launchers that cut it;
            otherwise its corners are round and clear.

    Returns:
        A PNG, RGBA.
    """
    rows, softness = [], 1.5 / side
    for y in range(side):
        row, level = bytearray(b"\0"), (y + 0.5) / side
        strokes = _strokes_near(level, _HALF_WIDTH + softness)
        for x in range(side):
            at = ((x + 0.5) / side, level)
            row += bytes(_pixel(at, softness, strokes, is_maskable=is_maskable))
        rows.append(bytes(row))
    head = struct.pack(">IIBBBBB", side, side, 8, 6, 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(b"".join(rows), 9)))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(*p) for p in (*parts, (b"IEND", b"")))


def _strokes_near(level: float, reach: float) -> list[_Stroke]:
    """Give the strokes that a row of pixels can meet: the others do not light it."""
    return [
        (start, end)
        for start, end in itertools.pairwise(_LINE)
        if min(start[1], end[1]) - reach < level < max(start[1], end[1]) + reach
    ]


def _pixel(
    at: _Point, softness: float, strokes: list[_Stroke], *, is_maskable: bool
) -> tuple[int, ...]:
    distances = (_distance(start, end, at) for start, end in strokes)
    from_line = min(distances, default=1.0)
    lit = min(1.0, max(0.0, 0.5 - (from_line - _HALF_WIDTH) / softness))
    mixed = (
        round(ground + (sign - ground) * lit)
        for ground, sign in zip(GROUND, SIGN, strict=True)
    )
    outside = -1.0 if is_maskable else _beyond_corner(at)
    return (*mixed, round(255 * min(1.0, max(0.0, 0.5 - outside / softness))))


def _beyond_corner(at: _Point) -> float:
    x, y = (max(0.0, abs(part - 0.5) - (0.5 - _CORNER)) for part in at)
    return float((x * x + y * y) ** 0.5 - _CORNER)


def _distance(start: _Point, end: _Point, at: _Point) -> float:
    along = (end[0] - start[0], end[1] - start[1])
    away = (at[0] - start[0], at[1] - start[1])
    length = along[0] ** 2 + along[1] ** 2
    part = max(0.0, min(1.0, (away[0] * along[0] + away[1] * along[1]) / length))
    x, y = away[0] - part * along[0], away[1] - part * along[1]
    return float((x * x + y * y) ** 0.5)


def _chunk(name: bytes, content: bytes) -> bytes:
    check = struct.pack(">I", zlib.crc32(name + content))
    return struct.pack(">I", len(content)) + name + content + check


_PACKAGE = Path(__file__).resolve().parents[1]
# Started by the page. Where tests need other costs or folders they give their own.
START = "from exam_app.ui.server.phone_page import start\n\nstart()\n"
_LEFT_OUT = ("phone/", "native/", "__main__.py", "_bundled/")
_UNUSED_ENDINGS = (".dart", ".pyi", ".c", ".h", ".pyx", ".pxd", ".so.map", "/RECORD")
_NO_TIME = (1980, 1, 1, 0, 0, 0)


def write_archive(target: Path, wheels: Iterable[Path], start: str = START) -> None:
    """Write the archive.

    Args:
        target: The file to make.
        wheels: Unpacked into the archive, tests and sources of native parts left out.
        start: The text of the module that the page runs.
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
            is_code = path.suffix in (".py", ".toml") and path.is_file()
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
_STATIC = Path(__file__).with_name("static")
_COPIED = (
    "able.js",
    "start.js",
    "python.js",
    "worker.js",
    "primitives.js",
    "codes.js",
    "zxing_reader.js",
    "zxing_reader.wasm",
    "manifest.json",
    "LICENSES.txt",
)
_ICONS = (
    ("exam-192", 192, False),
    ("exam-512", 512, False),
    ("exam-maskable-512", 512, True),
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
        compressed_size: Bytes as a host sends them with gzip.
        release: The first 12 digits of the hash over all files' hashes and over the
            keeper's own text; the app says it on the phone.
    """

    folder: Path
    file_count: int
    size: int
    compressed_size: int
    release: str


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
    (made / "icons").mkdir()
    for name, side, is_maskable in _ICONS:
        picture = icon_png(side, is_maskable=is_maskable)
        (made / "icons" / f"{name}.png").write_bytes(picture)
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
    contents = [p.read_bytes() for p in sorted(made.rglob("*")) if p.is_file()]
    return Built(
        folder=folder,
        file_count=len(contents),
        size=sum(map(len, contents)),
        compressed_size=sum(len(gzip.compress(c, 6)) for c in contents),
        release=release,
    )
