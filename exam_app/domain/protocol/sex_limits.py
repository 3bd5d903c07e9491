"""What only one sex has: which parts rule the parts of the other sex out.

An animal whose sex is not known is asked for the parts of both. Only one of them can
be called free of abnormality: that marks the parts of the other sex as not present,
and a find takes back what was said of the other's. What is found in both stands, since
it was found.
"""

from collections.abc import Callable
from dataclasses import replace

from exam_app.domain.errors import OtherSexError
from exam_app.domain.exam.denials import with_nothing_said
from exam_app.domain.exam.exam import Exam, keys_in_scope
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.region_states import Conclusion, RegionEntry, RegionState
from exam_app.domain.protocol.protocol import Region, SpeciesProtocol, split_key

OTHER_SEX = "other sex"


def rival_keys(
    exam: Exam, protocol: SpeciesProtocol, region: Region
) -> tuple[str, ...]:
    """Return the keys in scope that an animal with this part cannot have too.

    None where the sex is known, since only one sex is asked about then.
    """
    if exam.animal.sex.kind or not region.sexes:
        return ()
    return _keys_where(exam, protocol, set(region.sexes).isdisjoint)


def kin_keys(exam: Exam, protocol: SpeciesProtocol, region: Region) -> tuple[str, ...]:
    """Return the keys in scope of the parts that the same sex alone has."""
    return _keys_where(exam, protocol, lambda sexes: set(sexes) == set(region.sexes))


def _keys_where(
    exam: Exam, protocol: SpeciesProtocol, holds: Callable[[tuple[str, ...]], bool]
) -> tuple[str, ...]:
    """Return the keys in scope of the parts of one sex for which something holds."""
    sexes = {region.region_id: region.sexes for region in protocol.regions}
    return tuple(
        key
        for key in keys_in_scope(exam, protocol)
        if (own := sexes[split_key(key)[0]]) and holds(own)
    )


def _with_kin(exam: Exam, protocol: SpeciesProtocol, region: Region) -> Exam:
    """Open again what was called of the other sex of the parts of this one."""
    opened = {
        key: with_nothing_said(exam.entry(key))
        for key in kin_keys(exam, protocol, region)
        if is_of_other_sex(exam.entry(key))
    }
    return replace(exam, regions={**exam.regions, **opened}) if opened else exam


def assert_over_rivals(
    exam: Exam, protocol: SpeciesProtocol, region: Region, by: Attribution
) -> Exam:
    """Return the exam in which the parts of the other sex are not present.

    Raises:
        OtherSexError: Something was asserted or found of them; nothing is changed.
    """
    rivals = rival_keys(exam, protocol, region)
    for key in rivals:
        entry = exam.entry(key)
        if entry.findings or entry.conclusion is Conclusion.ASSERTED:
            raise OtherSexError(key)
    return _without(_with_kin(exam, protocol, region), rivals, by)


def find_over_rivals(
    exam: Exam, protocol: SpeciesProtocol, region: Region, by: Attribution
) -> Exam:
    """Return the exam in which nothing is asserted of the parts of the other sex.

    What was asserted is open again, to be answered anew; what was not answered is not
    present; what was found stands.
    """
    exam = _with_kin(exam, protocol, region)
    rivals = rival_keys(exam, protocol, region)
    regions = dict(exam.regions)
    for key in rivals:
        entry = exam.entry(key)
        if entry.conclusion is Conclusion.ASSERTED:
            regions[key] = with_nothing_said(entry)
    unsaid = tuple(k for k in rivals if exam.entry(k).state is RegionState.UNEXAMINED)
    return _without(replace(exam, regions=regions), unsaid, by)


def require_one_sex(
    exam: Exam, protocol: SpeciesProtocol, region: Region, answered: str, reason: str
) -> None:
    """Refuse to call a part that of the other sex beside what denies it.

    Args:
        answered: Key of the part; what was asserted of it is being replaced.

    Raises:
        OtherSexError: The parts of the other sex were called so already, or another
            part of this sex was examined.
    """
    if reason != OTHER_SEX:
        return
    for key in kin_keys(exam, protocol, region):
        entry = exam.entry(key)
        is_claimed = entry.conclusion is Conclusion.ASSERTED and key != answered
        if entry.findings or is_claimed:
            raise OtherSexError(key)
    for key in rival_keys(exam, protocol, region):
        if is_of_other_sex(exam.entry(key)):
            raise OtherSexError(key)


def is_of_other_sex(entry: RegionEntry) -> bool:
    """Whether a part was called not present since the animal has the other sex."""
    return entry.conclusion is Conclusion.NOT_PRESENT and entry.reason == OTHER_SEX


def is_sex_unsettled(exam: Exam, protocol: SpeciesProtocol) -> bool:
    """Whether the parts of both sexes were claimed, or called those of the other."""
    said = [
        (region, key)
        for region in protocol.regions_of_a_sex
        for key in region.answer_keys()
        if exam.entry(key).is_answered
    ]
    if len(said) < 2:
        return False
    keys = keys_in_scope(exam, protocol)
    asked = [(region.sexes, exam.entry(key)) for region, key in said if key in keys]
    claimed = {s for s, entry in asked if entry.conclusion is Conclusion.ASSERTED}
    others = {sexes for sexes, entry in asked if is_of_other_sex(entry)}
    return max(len(claimed), len(others)) > 1


def _without(exam: Exam, keys: tuple[str, ...], by: Attribution) -> Exam:
    absent = {
        key: RegionEntry(
            conclusion=Conclusion.NOT_PRESENT,
            reason=OTHER_SEX,
            remark=exam.entry(key).remark,
            attribution=by,
        )
        for key in keys
        if exam.entry(key).conclusion is not Conclusion.NOT_PRESENT
    }
    return replace(exam, regions={**exam.regions, **absent})
