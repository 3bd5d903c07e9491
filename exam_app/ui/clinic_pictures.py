"""Read codes out of pictures and films, with what this computer happens to have.

zxing-cpp and Pillow come with the clinic extra, the camera with flet-camera, films
need OpenCV. What is missing is said in plain words, with what can be done instead;
nothing here guesses, downloads or installs.
"""

import importlib
import importlib.util
import io
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, ClassVar

from exam_app.domain.errors import ExamError

FILM_ENDINGS = (".mp4", ".mov", ".m4v", ".webm", ".mkv", ".avi", ".mjpeg")
PICTURE_ENDINGS = (".png", ".jpg", ".jpeg", ".webp", ".bmp", ".gif", ".tif", ".tiff")
LARGEST_PIXELS = 60_000_000
_INSTALL = "pip install 'exam-app[clinic]'"
_INSTEAD = (
    "Without it, use a folder or a stick, or a scanner that types into the field below."
)


class CodesUnreadableError(ExamError):
    """This computer lacks the part that reads codes in pictures."""

    advice: ClassVar[str] = (
        "This computer cannot read codes in pictures: a part is not installed "
        f"({_INSTALL}). Nothing was lost. {_INSTEAD}"
    )


class FilmUnreadableError(ExamError):
    """This computer lacks the part that opens films, or the film does not open."""

    advice: ClassVar[str] = (
        "This film cannot be opened here: OpenCV is not installed "
        "(pip install opencv-python-headless), or the file is no film. Nothing was "
        "lost. Take photos of the codes instead, or use a folder."
    )


class PictureUnreadableError(ExamError):
    """A file is no picture that can be opened."""

    advice: ClassVar[str] = (
        "That file is no picture this computer can open. Nothing was taken from it. "
        "Choose a PNG or JPEG photo of the codes."
    )


def can_read_pictures() -> bool:
    """Return whether codes in pictures can be read here."""
    return _has("zxingcpp") and _has("PIL")


def can_use_camera() -> bool:
    """Return whether the browser's camera can be shown and read here."""
    return _has("flet_camera") and can_read_pictures()


def can_read_films() -> bool:
    """Return whether films can be opened here."""
    return _has("cv2") and can_read_pictures()


def what_is_missing() -> tuple[str, ...]:
    """Say in sentences what cannot be read here, and what to do instead."""
    sentences = []
    if not can_read_pictures():
        sentences.append(
            "Codes cannot be read from the camera or from photos: that part is not "
            f"installed ({_INSTALL}). {_INSTEAD}"
        )
    elif not _has("flet_camera"):
        sentences.append(
            "The camera cannot be shown: flet-camera is not installed "
            f"({_INSTALL}). Photos of the codes can be opened below."
        )
    if can_read_pictures() and not _has("cv2"):
        sentences.append(
            "Films cannot be opened: OpenCV is not installed "
            "(pip install opencv-python-headless). Photos can."
        )
    return tuple(sentences)


def is_film(name: str) -> bool:
    """Return whether a file's ending says that it is a film."""
    return name.lower().endswith(FILM_ENDINGS)


def codes_in_picture(content: bytes) -> tuple[str, ...]:
    """Return the text of every QR code found in one picture, in the order found.

    Args:
        content: A PNG, JPEG or other picture file.

    Raises:
        CodesUnreadableError: The part that reads codes is not installed.
        PictureUnreadableError: It is no picture, or one of absurd size.
    """
    if not can_read_pictures():
        raise CodesUnreadableError
    image = importlib.import_module("PIL.Image")
    try:
        with image.open(io.BytesIO(content)) as opened:
            if opened.width * opened.height > LARGEST_PIXELS:
                raise PictureUnreadableError
            grey = opened.convert("L")
    except (OSError, ValueError, SyntaxError) as error:
        raise PictureUnreadableError from error
    return _codes_in(grey)


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
    zxing = importlib.import_module("zxingcpp")
    found = zxing.read_barcodes(picture, formats=zxing.BarcodeFormat.QRCode)
    return tuple(code.text for code in found if code.valid)


def _has(module: str) -> bool:
    return importlib.util.find_spec(module) is not None
