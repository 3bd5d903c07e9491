"""What a chosen file says: the codes of a photo, the text of a text file."""

from exam_app.ui.clinic_pictures import (
    PICTURE_ENDINGS,
    can_read_pictures,
    read_codes,
)


async def texts_of(name: str, content: bytes) -> tuple[str, ...]:
    """Return the codes of a photo, or the text of a text file; else nothing.

    Raises:
        PictureUnreadableError: It is named like a picture and is none.
        CodeReaderNotStartedError: The phone's reader of codes did not start.
    """
    if name.lower().endswith(PICTURE_ENDINGS):
        if not can_read_pictures():
            return ()
        return await read_codes(content)
    try:
        return (content.decode("ascii"),)
    except UnicodeDecodeError:
        return ()
