"""The browser's own camera, as Flet shows it, and why there is none."""

import importlib
from typing import Any

# In what browsers say, without spaces: a person or a setting said no.
_REFUSALS = ("denied", "permission", "notallowed", "dismissed", "refused", "security")
# Another program holds it, or the system does not give it.
_TAKEN = ("notreadable", "trackstart", "inuse", "couldnotstart", "abort")


def new_camera() -> Any:  # noqa: ANN401
    """Make the control; nobody is asked for a camera before it is opened."""
    library = importlib.import_module("flet_camera")
    return library.Camera(expand=True, preview_enabled=True)


async def open_camera(camera: Any, description: Any) -> None:  # noqa: ANN401
    """Let the control on the page show one of the cameras it has named.

    Raises:
        RuntimeError: The browser refused; see ``is_not_allowed``.
    """
    library = importlib.import_module("flet_camera")
    # 1080 lines: codes of normal dots are read from a hand's breadth away, and a
    # photograph is kept no larger.
    size = library.ResolutionPreset.VERY_HIGH
    await camera.initialize(description, size, enable_audio=False)


def is_not_allowed(refusal: str) -> bool:
    """Whether a browser's words say that a person or a setting refused."""
    return _says(refusal, _REFUSALS)


def is_taken(refusal: str) -> bool:
    """Whether a browser's words say that there is a camera and it is not given."""
    return _says(refusal, _TAKEN)


def _says(refusal: str, words: tuple[str, ...]) -> bool:
    letters = "".join(filter(str.isalpha, refusal.lower()))
    return any(one in letters for one in words)
