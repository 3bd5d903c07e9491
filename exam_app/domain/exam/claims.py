"""Which claims the sentence "no abnormality found" makes of a part.

A claim is made where the exam's scope, the animal's sex and its neuter status fit it.
What a routine exam does not do stands in the sentence only where it was added, for one
exam or by the practice for every exam.
"""

from collections.abc import Collection

from exam_app.domain.animal.signalment import Sex
from exam_app.domain.protocol.protocol import Clause, Region, Scope

_NEUTERED = (Sex.FEMALE_NEUTERED, Sex.MALE_NEUTERED)


def claim_name(region_id: str, clause_id: str) -> str:
    """Name a claim across parts, as an exam and a practice keep it: ``ears/drum``."""
    return f"{region_id}/{clause_id}"


def fits_sex(clause: Clause, region: Region, sex: Sex) -> bool:
    """Whether a claim can be true of an animal of this sex and neuter status.

    A sex that is not known fits a claim only inside a part that this sex alone has.
    ``neutered = "no"`` means: not noted as neutered.
    """
    is_neutered = sex in _NEUTERED
    if clause.neutered and (clause.neutered == "yes") is not is_neutered:
        return False
    if not clause.sexes:
        return True
    return sex.kind in clause.sexes if sex.kind else _is_within(region, clause)


def _is_within(region: Region, clause: Clause) -> bool:
    return bool(region.sexes) and set(region.sexes) <= set(clause.sexes)


def claims_fitting(region: Region, scope: Scope, sex: Sex) -> tuple[Clause, ...]:
    """Return every claim that this scope can make of this animal, added or not."""
    return tuple(
        clause
        for clause in region.clauses
        if scope in clause.scopes and fits_sex(clause, region, sex)
    )


def claims_made(
    region: Region, scope: Scope, sex: Sex, added: Collection[str]
) -> tuple[Clause, ...]:
    """Return the claims of the sentence, in order.

    Args:
        added: Names of the claims that were added, of whatever part.
    """
    return tuple(
        clause
        for clause in claims_fitting(region, scope, sex)
        if is_asked(region, clause, added)
    )


def is_asked(region: Region, clause: Clause, added: Collection[str]) -> bool:
    """Whether a claim is one of the routine, or was added by its name."""
    is_added = claim_name(region.region_id, clause.clause_id) in added
    return is_added or not clause.opt_in
