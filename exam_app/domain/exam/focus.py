"""Which parts a focused exam may name: those its starter's sentence says something of.

A focused exam speaks as a technician's or a veterinarian's exam. A part of which that
exam claims nothing (the deep mouth, for a technician) could only be left undone.
"""

from exam_app.domain.animal.signalment import Animal
from exam_app.domain.errors import FocusError
from exam_app.domain.exam.claims import claims_fitting
from exam_app.domain.exam.exam import Exam, sentence_scope
from exam_app.domain.exam.people import Role
from exam_app.domain.protocol.protocol import Region, Scope, SpeciesProtocol


def regions_to_choose(
    animal: Animal, protocol: SpeciesProtocol, starter: Role
) -> tuple[Region, ...]:
    """Return the parts that a focused exam of this animal may name, head to tail.

    Args:
        starter: Role of who starts it; only a veterinarian's exam goes deeper.
    """
    is_veterinarian = starter is Role.VETERINARIAN
    scope = Scope.VETERINARIAN if is_veterinarian else Scope.TECHNICIAN
    kind = animal.sex.kind
    return tuple(
        region
        for region in protocol.regions
        if (not region.sexes or not kind or kind in region.sexes)
        and claims_fitting(region, scope, animal.sex)
    )


def require_focus(exam: Exam, protocol: SpeciesProtocol) -> Exam:
    """Return the exam, if its focus names only parts it can say something of.

    Raises:
        FocusError: A part without a claim in this exam's scope, or none at all.
    """
    if exam.scope is not Scope.FOCUSED:
        return exam
    regions = {region.region_id: region for region in protocol.regions}
    for region_id in exam.focus:
        region = regions.get(region_id)
        if region is None or not claims_fitting(
            region, sentence_scope(exam), exam.animal.sex
        ):
            raise FocusError(region_id)
    if not exam.focus:
        raise FocusError("")
    return exam
