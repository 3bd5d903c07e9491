"""Find the assets and the demo patients, in a wheel or in a checkout.

A wheel carries both inside the package under ``_bundled``; a checkout has them
beside the package. No other module looks for files of its own.
"""

from pathlib import Path
from typing import ClassVar

from exam_app.domain.errors import ExamError

_PACKAGE = Path(__file__).resolve().parent


class ResourceMissingError(ExamError):
    """A file that the app carries is not where the installation should have it."""

    advice: ClassVar[str] = (
        "The installation is incomplete: files that belong to the app are missing. "
        "Nothing of yours was changed. Install the app again."
    )


def assets_folder() -> Path:
    """Find the folder whose content the page may fetch.

    Returns:
        An absolute path. Everything below it is public to the page.

    Raises:
        ResourceMissingError: The installation carries no assets.
    """
    return _find("assets")


def demo_patients_folder() -> Path:
    """Find the folder of invented patients.

    Returns:
        An absolute path.

    Raises:
        ResourceMissingError: The installation carries no demo patients.
    """
    return _find("demo_patients")


def fallback_font() -> bytes:
    """Read the one font that answers for every sign the first font lacks."""
    return (assets_folder() / "fonts" / "DejaVuSans.ttf").read_bytes()


def _find(name: str) -> Path:
    for place in (_PACKAGE / "_bundled" / name, _PACKAGE.parent / name):
        if place.is_dir():
            return place
    raise ResourceMissingError(name)
