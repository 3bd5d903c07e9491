"""What a chosen file says: the codes of a photo, the text of a text file."""

from typing import ClassVar

from exam_app.domain.errors import ExamError
from exam_app.ui.clinic_pictures import PICTURE_ENDINGS, read_codes


class NoCodeInPictureError(ExamError):
    """A picture was opened, and there is no code in it."""

    advice: ClassVar[str] = (
        "No code was found in that picture. Nothing was taken from it. Take it "
        "again: closer, sharp, straight on, with all four edges of the code."
    )


async def texts_of(name: str, content: bytes) -> tuple[str, ...]:
    """Return the codes of a photo, or the text of a text file; else nothing.

    Raises:
        NoCodeInPictureError: It is a picture without a code.
        PictureUnreadableError: It is named like a picture and is none.
        CodesUnreadableError: The part that reads codes is not installed.
        CodeReaderNotStartedError: The phone's reader of codes did not start.
    """
    if name.lower().endswith(PICTURE_ENDINGS):
        codes = await read_codes(content)
        if not codes:
            raise NoCodeInPictureError
        return codes
    try:
        return (content.decode("ascii"),)
    except UnicodeDecodeError:
        return ()
