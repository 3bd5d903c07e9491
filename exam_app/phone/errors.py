"""Every refusal of building and serving the phone's app, each with advice."""

from typing import ClassVar

from exam_app.domain.errors import ExamError


class PhoneError(ExamError):
    """Any refusal of building or serving the phone's app."""

    advice: ClassVar[str] = (
        "The app for phones was not made. Nothing was changed. Report what you did."
    )


class FolderInTheWayError(PhoneError):
    """The folder holds something that no build has made."""

    advice: ClassVar[str] = (
        "This folder holds other files. Nothing was changed. "
        "Choose an empty folder, or one that an earlier build has made."
    )


class BuildFolderUnwritableError(PhoneError):
    """The folder or the one above it cannot be written."""

    advice: ClassVar[str] = (
        "The folder cannot be written, or the disk is full. An earlier build in it "
        "was left as it was. Choose another folder or free some space."
    )


class PartsNotFetchedError(PhoneError):
    """The Python packages for the browser could not be fetched, or were others."""

    advice: ClassVar[str] = (
        "Parts for the browser could not be fetched from the Python package index, "
        "or were not the ones that were tried. Nothing was changed. Check the "
        "network (only building needs it), then try again."
    )


class AddressChangedError(PhoneError):
    """The host would be another one for the phones that know it."""

    advice: ClassVar[str] = (
        "Phones know this host under another address. Nothing was changed."
    )

    def __init__(self, known: str, found: str) -> None:
        """Name both addresses, and the ways out."""
        super().__init__(known, found)
        known_name, known_port = known.rsplit(":", 1)
        self.advice = (  # type: ignore[misc]
            f"STOP: phones know this host as https://{known}/, and now it would be "
            f"https://{found}/. For a phone that is another app without any exams: "
            f"those that were made stay under https://{known}/. Nothing was changed "
            "and no certificate was made. Do one of these:\n"
            f"1. Give this computer its old address {known_name} again (in the "
            "router, for example), and serve once more.\n"
            f"2. If it still has that name, serve with: --name {known_name} "
            f"--port {known_port}\n"
            "3. If the old address is gone for good: on each phone open the app as "
            "before (it starts without this host), hand over and back up. Then serve "
            "with --new-address, let the phone trust the new certificate, and restore "
            "the backup there. The old certificate is kept."
        )


class NoBuildError(PhoneError):
    """The folder holds no build that could be given out."""

    advice: ClassVar[str] = (
        "This folder holds no app for phones, or not a whole one. Nothing was "
        "changed. Make one first with: exam-app phone build DIR"
    )
