"""Read codes out of pictures and films, with what this computer happens to have.

zxing-cpp comes with the clinic extra; films need OpenCV.
On a phone the app brings its own reader and cannot open films. What is missing is said
in plain words, with what can be done instead; nothing here guesses, downloads or
installs.

``phone/static/codes.js`` puts a reader into the worker that runs Python; what it needs
is fetched from the app's own files at the first picture.
"""

import asyncio
import importlib
import importlib.util
import io
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, ClassVar

from exam_app.app.pictures.picture_sizes import is_webp, size_of
from exam_app.domain.errors import ExamError
from exam_app.language.catalogue import to_translate, tr


class CodeReaderNotStartedError(ExamError):
    """The browser did not start the part that reads codes."""

    advice: ClassVar[str] = to_translate(
        "The part that reads codes did not start in this browser. Nothing was lost. "
        "Close other windows and try again, or paste the text or open the file "
        "instead of the code."
    )


def is_browser() -> bool:
    """Return whether Python runs in a browser here."""
    return sys.platform == "emscripten"


def can_read() -> bool:
    """Return whether the browser's reader of codes is here."""
    return is_browser() and hasattr(importlib.import_module("js"), "examCodes")


FILM_ENDINGS = (".mp4", ".mov", ".m4v", ".webm", ".mkv", ".avi", ".mjpeg")
PICTURE_ENDINGS = (
    *(".png", ".jpg", ".jpeg", ".webp", ".bmp", ".gif", ".tif", ".tiff"),
    *(".heic", ".heif", ".avif"),
)
LARGEST_PIXELS = 60_000_000
LARGEST_BYTES = 64_000_000
# Of a picture that is looked through twice; larger ones are photos with large dots.
_MOST_ENLARGED = 2_100_000
_INSTALL = "pip install 'exam-app[clinic]'"
_INSTEAD = to_translate(
    "Without it, use a folder or a stick, or a scanner that types into the field below."
)


class CodesUnreadableError(ExamError):
    """This computer lacks the part that reads codes in pictures."""

    advice: ClassVar[str] = to_translate(
        "This computer cannot read codes in pictures: a part is not installed "
        "(pip install 'exam-app[clinic]'). Nothing was lost. Without it, use a folder "
        "or a stick, or a scanner that types into the field below."
    )


class FilmUnreadableError(ExamError):
    """This computer lacks the part that opens films, or the film does not open."""

    advice: ClassVar[str] = to_translate(
        "This film cannot be opened here: films need OpenCV on a computer "
        "(pip install opencv-python-headless), or the file is no film. Nothing was "
        "lost. Take photos of the codes instead, or use a folder."
    )


class PictureUnreadableError(ExamError):
    """A file is no picture that can be opened."""

    advice: ClassVar[str] = to_translate(
        "That file is no picture that can be opened here, or it is too large. "
        "Nothing was taken from it. Choose a PNG or JPEG photo of the codes."
    )


def can_read_pictures() -> bool:
    """Return whether codes in pictures can be read here."""
    return can_read() or (_has("zxingcpp") and _has("PIL"))


def can_use_camera() -> bool:
    """Return whether the browser's camera can be shown and read here."""
    return _has("flet_camera") and can_read_pictures()


def can_read_films() -> bool:
    """Return whether films can be opened here."""
    return _has("cv2") and can_read_pictures()


def what_is_missing() -> tuple[str, ...]:
    """Say in sentences what cannot be read here, and what to do instead."""
    if is_browser():
        return _missing_on_phone()
    sentences = []
    if not can_read_pictures():
        sentences.append(
            tr(
                "Codes cannot be read from the camera or from photos: that part is not "
                "installed ({command}). {instead}",
                command=_INSTALL,
                instead=tr(_INSTEAD),
            )
        )
    elif not _has("flet_camera"):
        sentences.append(
            tr(
                "The camera cannot be shown: flet-camera is not installed "
                "({command}). Photos of the codes can be opened below.",
                command=_INSTALL,
            )
        )
    if can_read_pictures() and not _has("cv2"):
        sentences.append(
            tr(
                "Films cannot be opened: OpenCV is not installed "
                "(pip install opencv-python-headless). Photos can."
            )
        )
    return tuple(sentences)


def _missing_on_phone() -> tuple[str, ...]:
    if can_use_camera():
        return (tr("Films cannot be opened on a phone. Photos can."),)
    return (
        tr(
            "Codes cannot be read from the camera or from photos here: this app was "
            "put together without that part. Paste texts or open files instead."
        ),
    )


def is_film(name: str) -> bool:
    """Return whether a file's ending says that it is a film."""
    return name.lower().endswith(FILM_ENDINGS)


async def read_codes(content: bytes) -> tuple[str, ...]:
    """Return the text of every QR code in one picture, on a computer or a phone.

    Raises:
        CodesUnreadableError: The part that reads codes is not installed.
        CodeReaderNotStartedError: The phone's reader did not start.
        PictureUnreadableError: It is no picture, or one of absurd size.
    """
    if not can_read():
        return await asyncio.to_thread(codes_in_picture, content)
    # The reader itself knows no WebP; the browser does.
    is_known = _checked_size(content) is not None and not is_webp(content)
    js, ffi = map(importlib.import_module, ("js", "pyodide.ffi"))
    try:
        # The browser itself draws what the reader does not know, up to this size.
        codes: Any = await js.examCodes.read(
            ffi.to_js(content), is_known, LARGEST_PIXELS
        )
    except ffi.JsException as error:
        raise CodeReaderNotStartedError(str(error)) from error
    # A JavaScript null is no None.
    if not hasattr(codes, "length"):
        raise PictureUnreadableError
    return tuple(map(str, codes))


def codes_in_picture(content: bytes) -> tuple[str, ...]:
    """Return the text of every QR code in one picture, by this computer's own parts.

    Raises:
        CodesUnreadableError: The part that reads codes is not installed.
        PictureUnreadableError: It is no picture, or one of absurd size.
    """
    if not (_has("zxingcpp") and _has("PIL")):
        raise CodesUnreadableError
    _checked_size(content)
    image = importlib.import_module("PIL.Image")
    try:
        with image.open(io.BytesIO(content)) as opened:
            if opened.width * opened.height > LARGEST_PIXELS:
                raise PictureUnreadableError
            grey = opened.convert("L")
    except (OSError, ValueError, SyntaxError) as error:
        raise PictureUnreadableError from error
    return _codes_in(grey)


def _checked_size(content: bytes) -> tuple[int, int] | None:
    size = size_of(content)
    pixels = size[0] * size[1] if size else 0
    if pixels > LARGEST_PIXELS or len(content) > LARGEST_BYTES:
        raise PictureUnreadableError("too large")
    return size


def codes_in_film(content: bytes, name: str) -> Iterator[tuple[str, ...]]:
    """Give the codes of each frame of a film, in the order of the film.

    Args:
        content: The film's bytes; written to a folder that is removed afterwards,
            since OpenCV opens paths only. Frames of a hand-over are sealed.
        name: The file's own name, for its ending.

    Raises:
        FilmUnreadableError: OpenCV is missing, or the film does not open.
    """
    if not can_read_films():
        raise FilmUnreadableError
    opencv = importlib.import_module("cv2")
    with tempfile.TemporaryDirectory(prefix="exam-film-") as folder:
        path = Path(folder) / f"film{Path(name).suffix.lower()}"
        path.write_bytes(content)
        film = opencv.VideoCapture(str(path))
        try:
            yield from _frames_of(film, opencv)
        finally:
            film.release()


def _frames_of(film: Any, opencv: Any) -> Iterator[tuple[str, ...]]:  # noqa: ANN401
    count = 0
    while True:
        is_read, picture = film.read()
        if not is_read:
            break
        count += 1
        yield _codes_in(opencv.cvtColor(picture, opencv.COLOR_BGR2GRAY))
    if count == 0:
        raise FilmUnreadableError("no frame could be read")


def _codes_in(picture: Any) -> tuple[str, ...]:  # noqa: ANN401
    """Look for codes, and where there is none, in the picture twice as large.

    Of dots that are less than three pixels wide and blurred, the reader finds in the
    simulated hard camera 5 of 10 as they are and 9 of 10 enlarged; this costs 50 ms of
    a core for 1280 by 720 pixels (``tests/benchmarks/test_handover_benchmark.py``).
    """
    found = _read(picture)
    if found:
        return found
    image = importlib.import_module("PIL.Image")
    small = picture if isinstance(picture, image.Image) else image.fromarray(picture)
    if small.width * small.height > _MOST_ENLARGED:
        return found
    size = (2 * small.width, 2 * small.height)
    return _read(small.resize(size, image.Resampling.LANCZOS))


def _read(picture: Any) -> tuple[str, ...]:  # noqa: ANN401
    zxing = importlib.import_module("zxingcpp")
    found = zxing.read_barcodes(picture, formats=zxing.BarcodeFormat.QRCode)
    return tuple(code.text for code in found if code.valid)


def _has(module: str) -> bool:
    return importlib.util.find_spec(module) is not None
