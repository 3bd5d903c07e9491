"""Build the app for a phone: one folder that any static host can give out.

Everything comes from installed packages, and from wheels that are named with their
hashes. The same sources give the same bytes. A build is made beside its folder and
put in place when it is whole.
"""

import base64
import gzip
import hashlib
import html
import json
import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from exam_app.phone.archive import START, write_archive
from exam_app.phone.client import copy_client
from exam_app.phone.errors import BuildFolderUnwritableError, FolderInTheWayError
from exam_app.phone.icons import icon_png
from exam_app.phone.wheels import fetch_wheels
from exam_app.resources import fallback_font

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
