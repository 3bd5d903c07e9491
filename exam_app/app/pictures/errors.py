"""What is said of a picture that is not taken, or not shown."""

from typing import ClassVar

from exam_app.domain.errors import ExamError
from exam_app.language.catalogue import to_translate


class PhotographRefusedError(ExamError):
    """A file is no photograph that is taken here."""

    advice: ClassVar[str] = to_translate(
        "That file is no whole JPEG, PNG or WebP picture. Nothing was taken from it, "
        "and the exam is as it was. Take the photograph again, or choose another."
    )


class HeicPhotographError(PhotographRefusedError):
    """A photograph in a format that is opened by its maker's devices only."""

    advice: ClassVar[str] = to_translate(
        "That is a HEIC picture, which cannot be opened here. Nothing was taken from "
        "it, and the exam is as it was. Set the camera to JPEG (on some phones "
        "“most compatible”), take it again, or choose a JPEG copy."
    )


class PhotographTooLargeError(PhotographRefusedError):
    """A photograph has more bytes or pixels than is opened."""

    advice: ClassVar[str] = to_translate(
        "That picture is too large to be opened: more than 60 megapixels (24 for PNG "
        "and WebP) or 40 MB. Nothing was taken from it, and the exam is as it was. "
        "Take it again with a lower resolution, or choose a smaller copy."
    )


class PhotographNotPreparedError(ExamError):
    """This browser or computer lacks a part that prepares pictures."""

    advice: ClassVar[str] = to_translate(
        "A photograph cannot be prepared here: this browser or computer lacks a part "
        "for it, or had no room. Nothing was kept of it, and the exam is as it was. "
        "Close other windows and try again, or describe what is seen in words."
    )
