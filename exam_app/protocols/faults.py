"""What is wrong with a protocol file: every fault, with file, key and reason."""

from dataclasses import dataclass
from typing import ClassVar

from exam_app.domain.errors import ExamError


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a protocol file.

    Attributes:
        file: Name of the file.
        key: Where in the file, as ``regions(eyes).terms(discharge).label``.
        reason: What is wrong, in plain words.
    """

    file: str
    key: str
    reason: str

    def __str__(self) -> str:
        """Return the fault as one line."""
        return f"{self.file}: {self.key}: {self.reason}"


class ProtocolFileError(ExamError):
    """A protocol file cannot be used; ``problems`` holds every fault found."""

    advice: ClassVar[str] = (
        "The protocol file has faults and is not used; exams already begun are safe. "
        "Correct each fault listed, then load the file again."
    )

    def __init__(self, path: str, problems: tuple[Fault, ...]) -> None:
        """Keep the file's name in ``path`` and all its faults in ``problems``."""
        super().__init__("\n".join(str(problem) for problem in problems))
        self.path = path
        self.problems = problems


class ProtocolTooNewError(ProtocolFileError):
    """The content was written by a later version of this program."""

    advice: ClassVar[str] = (
        "This protocol was written by a later version of the program. "
        "Update the program, then open it again; nothing was changed."
    )
