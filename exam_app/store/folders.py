"""A vault's folder: whether it holds one, and its files."""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from exam_app.store.errors import (
    VaultError,
    VaultFullError,
    VaultUnreachableError,
    save_refusal,
)
from exam_app.store.files import (
    Opener,
    OwnPlace,
    SealedFile,
    open_file,
    peek_file,
)
from exam_app.store.head import PAGE_LENGTH, Head, decode_page
from exam_app.store.journal_files import JournalFiles
from exam_app.store.reserve import Reserve

# Longer than a journal in which nothing was ever saved.
_EMPTY_JOURNAL = 200
# Stands in the head until the first state is whole.
_BEGUN = b"exam-vault begun\n"


def vault_exists(folder: Path, opener: Opener = open_file) -> bool:
    """Whether the folder holds a vault, whole or damaged.

    A creation that was cut off before its head page left nothing worth keeping
    and does not count, however much a restoration had written. Saved states without
    their head do: a backup of the head may turn up.

    Raises:
        VaultUnreachableError: The folder cannot be read.
    """
    peek = opener.peek if isinstance(opener, OwnPlace) else peek_file
    with reaching():
        longest = max(peek(folder / name, 0)[0] for name in ("vault.a", "vault.b"))
        head_length, head = peek(folder / "vault.head", PAGE_LENGTH)
        if head == _BEGUN:
            return False
        if head_length > PAGE_LENGTH or longest > _EMPTY_JOURNAL:
            return True
        if not head_length:
            return False
        try:
            return decode_page(head) is not None
        except VaultError:
            return True


async def open_files(
    folder: Path, opener: Opener, undo: ExitStack, *, is_new: bool = False
) -> tuple[Head, JournalFiles]:
    """Open the files of a vault; those of a new one are emptied.

    A new one that fails leaves them empty again.
    """
    files: list[SealedFile] = []
    for name in ("vault.head", "vault.a", "vault.b", "vault.reserve"):
        file = await opener(folder / name)
        undo.callback(file.close)
        if is_new:
            undo.callback(_empty, file)
            file.truncate(0)
        if is_new and not files:
            file.write_at(0, _BEGUN)
            file.flush()
        files.append(file)
    head_file, first, second, reserve = files
    return Head(head_file), JournalFiles((first, second), Reserve(reserve))


@contextmanager
def reaching() -> Iterator[None]:
    """Turn the system's refusals of files into ours."""
    try:
        yield
    except OSError as error:
        refusal = save_refusal(error)
        if isinstance(refusal, VaultFullError):
            raise refusal from error
        raise VaultUnreachableError("the system refused the files") from error


def _empty(file: SealedFile) -> None:
    with suppress(OSError):
        file.truncate(0)
