"""What a chosen file says: the codes of a photo, the text of a text file."""

import contextlib
from collections.abc import Callable, Iterable
from typing import ClassVar

from exam_app.app.clinic.pictures import PICTURE_ENDINGS, read_codes
from exam_app.domain.errors import ExamError
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.files import pick_files
from sync.errors import CardError
from sync.trust.cards import from_text


class NoCodeInPictureError(ExamError):
    """A picture was opened, and there is no code in it."""

    advice: ClassVar[str] = (
        "No code was found in that picture. Nothing was taken from it. Take it "
        "again: closer, sharp, straight on, with all four edges of the code."
    )


async def picked_texts(
    tab: Tab, refuse: Callable[[str], None]
) -> list[tuple[tuple[str, ...], bytes]]:
    """Let files be chosen, and read what they say.

    Args:
        tab: Where they are chosen.
        refuse: Told why a file says nothing; that file is left out.

    Returns:
        Texts and content of each; without texts its content is what counts.
    """
    read = []
    for name, content in await pick_files(tab):
        try:
            read.append((await texts_of(name, content), content))
        except ExamError as refusal:
            refuse(refusal.advice)
    return read


def first_whole(texts: Iterable[str]) -> bytes | None:
    """Return what the first text that is whole stands for, or None."""
    for text in texts:
        with contextlib.suppress(CardError):
            return from_text(text)
    return None


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
