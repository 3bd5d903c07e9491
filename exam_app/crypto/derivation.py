"""What a passphrase costs to try: the Argon2id parameters and their bounds.

Parameters are read from a file before anything in it is authenticated, so they
are bounded first: an attacker must not be able to ask for all memory, nor to
have a new passphrase stored under a cheap derivation.
"""

from dataclasses import dataclass

from exam_app.crypto.errors import BadParametersError


@dataclass(frozen=True, slots=True)
class KeyDerivation:
    """Costs of one Argon2id (version 0x13) derivation.

    Attributes:
        memory_kib: Memory in KiB; at least eight for each lane.
        passes: Passes over that memory; at least one.
        lanes: Lanes of the algorithm; at least one.

    References:
        RFC 9106, section 3.1; 64 MiB and three passes are its second
        recommended option, here with one lane since a browser has one thread.
    """

    memory_kib: int = 65536
    passes: int = 3
    lanes: int = 1


@dataclass(frozen=True, slots=True)
class DerivationBounds:
    """The cheapest and the dearest derivation a reader accepts, ends included."""

    cheapest: KeyDerivation
    dearest: KeyDerivation


# The upper end is what a phone's browser can still allocate (common practice, no
# source); the lower end is a minimum often advised for passphrases (from memory).
PRODUCTION_BOUNDS = DerivationBounds(
    cheapest=KeyDerivation(memory_kib=19456, passes=2, lanes=1),
    dearest=KeyDerivation(memory_kib=262144, passes=10, lanes=4),
)


def check_bounds(
    parameters: KeyDerivation, bounds: DerivationBounds = PRODUCTION_BOUNDS
) -> None:
    """Refuse a derivation cheaper or dearer than the bounds in any of its costs.

    Args:
        parameters: Costs as read, not yet authenticated.
        bounds: The ends that still count as accepted.

    Raises:
        BadParametersError: One of the costs lies outside.
    """
    low, high = bounds.cheapest, bounds.dearest
    within = (
        low.memory_kib <= parameters.memory_kib <= high.memory_kib
        and low.passes <= parameters.passes <= high.passes
        and low.lanes <= parameters.lanes <= high.lanes
        and parameters.lanes >= 1
        and parameters.passes >= 1
        and parameters.memory_kib >= 8 * parameters.lanes
    )
    if not within:
        raise BadParametersError("key derivation costs outside the accepted bounds")
