"""What only one sex has: which parts rule the parts of the other sex out.

An animal whose sex is not known is asked for the parts of both. Only one of them can
be called free of abnormality: that marks the parts of the other sex as not present,
and a find takes back what was said of the other's. What is found in both stands, since
it was found.
"""

from dataclasses import replace

from exam_app.domain.denials import with_nothing_said
from exam_app.domain.errors import OtherSexError
from exam_app.domain.exam import Exam, keys_in_scope
from exam_app.domain.people import Attribution
from exam_app.domain.protocol import Region, SpeciesProtocol, split_key
from exam_app.domain.region_states import Conclusion, RegionEntry, RegionState

OTHER_SEX = "other sex"


def rival_keys(
    exam: Exam, protocol: SpeciesProtocol, region: Region
) -> tuple[str, ...]:
    """Return the keys in scope that an animal with this part cannot have too.

    None where the sex is known, since only one sex is asked about then.
    """
    if exam.animal.sex.kind or not region.sexes:
        return ()
    found = []
    for key in keys_in_scope(exam, protocol):
        other = protocol.region(split_key(key)[0])
        if other and other.sexes and set(other.sexes).isdisjoint(region.sexes):
            found.append(key)
    return tuple(found)


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
    return _without(exam, rivals, by)


def find_over_rivals(
    exam: Exam, protocol: SpeciesProtocol, region: Region, by: Attribution
) -> Exam:
    """Return the exam in which nothing is asserted of the parts of the other sex.

    What was asserted is open again, to be answered anew; what was not answered is not
    present; what was found stands.
    """
    rivals = rival_keys(exam, protocol, region)
    regions = dict(exam.regions)
    for key in rivals:
        entry = exam.entry(key)
        if entry.conclusion is Conclusion.ASSERTED:
            regions[key] = with_nothing_said(entry)
    unsaid = tuple(k for k in rivals if exam.entry(k).state is RegionState.UNEXAMINED)
    return _without(replace(exam, regions=regions), unsaid, by)


def require_one_sex(
    exam: Exam, protocol: SpeciesProtocol, region: Region, reason: str
) -> None:
    """Refuse to call the parts of both sexes those of the other sex.

    Raises:
        OtherSexError: The parts of the other sex were called so already.
    """
    if reason != OTHER_SEX:
        return
    for key in rival_keys(exam, protocol, region):
        if is_of_other_sex(exam.entry(key)):
            raise OtherSexError(key)


def is_of_other_sex(entry: RegionEntry) -> bool:
    """Whether a part was called not present since the animal has the other sex."""
    return entry.conclusion is Conclusion.NOT_PRESENT and entry.reason == OTHER_SEX


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
