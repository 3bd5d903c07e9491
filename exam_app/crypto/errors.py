"""Every refusal of the door, each with advice: the cause, then the next step.

Messages hold no key, no secret and no content.
"""

from typing import ClassVar


class CryptoError(Exception):
    """Any refusal of the door."""

    advice: ClassVar[str] = (
        "A cryptographic step was refused. Nothing was changed. Report what you did."
    )


class WrongKeyError(CryptoError):
    """The sealed bytes did not authenticate: another key, or changed bytes."""

    advice = (
        "These sealed bytes do not belong to this key, or were changed. "
        "Nothing was opened. Use the right key or an unchanged copy."
    )


class BadKeyError(CryptoError):
    """A key that no honest device makes: wrong length, not canonical, small order."""

    advice = (
        "This key is not one that a device makes. It was not used. "
        "Ask for the key again from the device it belongs to."
    )


class BadParametersError(CryptoError):
    """A length, nonce or key-derivation cost outside what the door accepts."""

    advice = (
        "The cryptographic parameters are outside the accepted limits. "
        "Nothing was opened. Use a copy of the file that was not changed."
    )


class DerivationMissingError(CryptoError):
    """The cryptographic library was built without Argon2id."""

    advice = (
        "This build of the app cannot protect exams with a passphrase on this device. "
        "Nothing was stored and nothing was changed. Install another build of the app."
    )
