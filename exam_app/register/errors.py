"""Every refusal of the register, each with advice: the cause, then the next step."""

from exam_app.domain.errors import ExamError
from exam_app.store.errors import VaultError, VaultUnreachableError


class RegisterMissingError(ExamError):
    """The part of the program that speaks to PostgreSQL is not installed."""

    advice = (
        "The part that speaks to a register is not installed here. Nothing was done. "
        "Install it with: pip install 'exam-app[register]'."
    )


class RegisterLostError(VaultUnreachableError):
    """The register cannot be reached, or the connection broke."""

    advice = (
        "The register cannot be reached. What it confirmed is safe there; what was "
        "just asked for may or may not be kept, and asking again is harmless. "
        "Hand-overs that come now are kept on this station until it answers again."
    )


class RegisterConflictError(VaultError):
    """Another station changed the same thing at the same moment, again and again."""

    advice = (
        "Another station changed the same animal or record at the same moment. "
        "Nothing of this change was kept. Look at what the other one wrote, then try "
        "again."
    )


class JobGoneError(VaultError):
    """A hand-over that a worker had taken was taken back from it."""

    advice = (
        "Another worker imports this hand-over by now. Nothing was kept here. "
        "Nothing needs to be done."
    )


class RegisterUnsafeError(ExamError):
    """The address leads over a network without a checked certificate."""

    advice = (
        "This address would send the password over the network unchecked. Nothing was "
        "sent. Use a local socket, or add sslmode=verify-full and sslrootcert to it."
    )


class NoStationError(VaultError):
    """This computer or its role was not admitted to the register."""

    advice = (
        "The register does not know this station, or knows it no more. Nothing was "
        "changed. Let whoever looks after the register admit it: exam-app register "
        "admit."
    )


class NoRegisterError(VaultError):
    """The database holds no register, or another version of it."""

    advice = (
        "The database holds no register that this version knows. Nothing was changed. "
        "Make one, or bring it up to date, with: exam-app register init."
    )


class RegisterRefusedError(VaultError):
    """The server does not let this role do that."""

    advice = (
        "The register does not allow that to this station. Nothing was changed. "
        "Ask whoever looks after the register."
    )


class RegisterKeepsItselfError(VaultError):
    """An upkeep of a folder that a register does not have."""

    advice = (
        "A register is backed up, checked and restored with PostgreSQL's own tools. "
        "Nothing was done. REGISTER.md says how."
    )
