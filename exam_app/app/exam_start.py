"""What is decided before the first touch: scope, setting, cautions, what to ask again.

Plain functions; a screen only shows what they return.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

from exam_app.domain.animal.ages import age_on
from exam_app.domain.animal.signalment import Animal, Sex, life_stage_of
from exam_app.domain.exam.closing import found_then, require_focus
from exam_app.domain.exam.exam import Exam, claim_name
from exam_app.domain.exam.findings import EarlierFinding, EarlierOutcome
from exam_app.domain.exam.handling import is_kind
from exam_app.domain.exam.marks import found_again
from exam_app.domain.exam.people import Person, Role
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import (
    SCOPE_LABELS,
    Clause,
    Scope,
    SpeciesProtocol,
)
from exam_app.domain.wording.source_words import cited
from exam_app.language.catalogue import to_translate, tr

SCOPE_MEANING = {
    Scope.INTAKE: to_translate("Plain words; nothing that needs a stethoscope."),
    Scope.TECHNICIAN: to_translate("Nose to tail with vitals, listening and feeling."),
    Scope.VETERINARIAN: to_translate(
        "As the technician exam, and what only a veterinarian does."
    ),
    Scope.FOCUSED: to_translate("Only the parts you choose; the title names them."),
    Scope.GROUP: to_translate(
        "Short: the few things asked of every animal of a group."
    ),
}
SETTING_LABELS = {
    Setting.CLINIC: to_translate("Clinic"),
    Setting.HOME: to_translate("At home"),
    Setting.FARM: to_translate("Farm or stable"),
    Setting.SHELTER: to_translate("Shelter"),
}
_FIRST_OFFERED = {
    Role.VOLUNTEER: Scope.INTAKE,
    Role.TECHNICIAN: Scope.TECHNICIAN,
    Role.VETERINARIAN: Scope.VETERINARIAN,
}


@dataclass(frozen=True, slots=True)
class ExamOrder:
    """What was chosen on the screen that starts an exam.

    Attributes:
        focus: Region ids of a focused exam.
        earlier: Open findings of earlier records of this animal.
        added_claims, instead_claims: What the practice has chosen to say, by name;
            what the protocol does not know is left out.
        marks: The highest number of a mark in earlier records; 0 for none.
    """

    animal: Animal
    scope: Scope
    setting: Setting
    focus: tuple[str, ...] = ()
    earlier: tuple[EarlierFinding, ...] = ()
    added_claims: tuple[str, ...] = ()
    instead_claims: tuple[str, ...] = ()
    marks: int = 0


def begin_exam(
    order: ExamOrder,
    protocol: SpeciesProtocol,
    protocol_hash: str,
    starter: Person,
    exam_id: str,
    now: Moment,
) -> Exam:
    """Return a new exam in which nothing is answered.

    Args:
        protocol_hash: SHA-256 of the protocol's content, in hex.
        exam_id: UUID as 32 hexadecimal digits.

    Raises:
        FocusError: A focused exam of a part it could say nothing of.
    """
    age = age_on(order.animal, now.local().date())
    exam = Exam(
        exam_id=exam_id,
        animal=order.animal,
        scope=order.scope,
        setting=order.setting,
        protocol_id=protocol.protocol_id,
        protocol_hash=protocol_hash,
        started=now,
        started_by=starter.person_id,
        life_stage=life_stage_of(protocol.life_stages, age),
        focus=tuple(
            r.region_id for r in protocol.regions if r.region_id in order.focus
        ),
        people=(starter,),
        earlier=order.earlier,
        is_demo=order.animal.is_demo,
        added_claims=_known(protocol, order.added_claims, lambda c: c.opt_in),
        instead_claims=_known(
            protocol, order.instead_claims, lambda c: bool(c.strike_as)
        ),
        marks_before=order.marks,
    )
    return require_focus(exam, protocol)


def _known(
    protocol: SpeciesProtocol, names: tuple[str, ...], fits: Callable[[Clause], bool]
) -> tuple[str, ...]:
    """Return the claims that this protocol has and that can be said so."""
    known = {
        claim_name(region.region_id, clause.clause_id)
        for region in protocol.regions
        for clause in region.clauses
        if fits(clause)
    }
    return tuple(name for name in names if name in known)


def scopes_for(
    role: Role, protocol: SpeciesProtocol, *, is_group: bool = False
) -> tuple[Scope, ...]:
    """Return the scopes a protocol serves, the one usual for the role first.

    Every role may choose every scope: a role is a claim, not a permission.

    Args:
        is_group: Whether the patient is a group, which has its group check only.
    """
    if is_group:
        return (Scope.GROUP,)
    served = {scope for region in protocol.regions for scope in region.scopes}
    served.add(Scope.FOCUSED)
    first = _FIRST_OFFERED[role]
    ordered = (first, *(scope for scope in SCOPE_LABELS if scope is not first))
    return tuple(scope for scope in ordered if scope in served)


def usual_setting(
    chosen: str, role: Role, scope: Scope, protocol: SpeciesProtocol
) -> Setting:
    """Return where an exam is offered to be, before anybody has said.

    Args:
        chosen: What was chosen on this device last; empty when nothing ever was.
    """
    if chosen in set(Setting):
        return Setting(chosen)
    if role is Role.VOLUNTEER or scope is Scope.INTAKE:
        return Setting.SHELTER
    return Setting.FARM if protocol.is_tagged else Setting.CLINIC


def asks_for_sex(animal: Animal, protocol: SpeciesProtocol, scope: Scope) -> bool:
    """Whether parts of both sexes would be asked, since the sex is not known."""
    is_open = animal.sex is Sex.UNKNOWN and not animal.is_group
    return is_open and any(
        region.sexes and (scope is Scope.FOCUSED or scope in region.scopes)
        for region in protocol.regions
    )


def own_dangers(animal: Animal) -> str:
    """Return what is known of this very animal, its dangers first; may be empty.

    Behaviour that is kind throughout warns of nothing and is left out.
    """
    behaviour = "" if is_kind(animal.behaviour) else animal.behaviour
    return " · ".join(text for text in (animal.dangers, behaviour) if text)


# What hurts at once, then how to hold it, then what one may catch; the law last.
_KIND_LABELS = {
    "bite": to_translate("Bite"),
    "kick": to_translate("Kick"),
    "crush": to_translate("Crush"),
    "restraint": to_translate("Restraint"),
    "heat": to_translate("Heat"),
    "zoonosis": to_translate("Zoonosis"),
    "hygiene": to_translate("Hygiene"),
    "law": to_translate("Law"),
}
_KINDS = tuple(_KIND_LABELS)
_AT_ONCE = 3


def cautions_by_kind(
    protocol: SpeciesProtocol,
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return the species' cautions under their kinds, what hurts at once first.

    Of the kinds that hurt at once, and of those not known here, which stand before
    what one may catch, the protocol's order decides.
    """

    def rank(kind: str) -> int:
        if kind not in _KINDS:
            return _KINDS.index("zoonosis") - 1
        return max(0, _KINDS.index(kind) - _AT_ONCE + 1)

    found: dict[str, list[str]] = {}
    for caution in sorted(protocol.cautions, key=lambda one: rank(one.kind)):
        plain = caution.kind.replace("_", " ").capitalize()
        kind = tr(_KIND_LABELS.get(caution.kind, plain))
        found.setdefault(kind, []).append(tr(caution.text))
    return tuple((kind, tuple(texts)) for kind, texts in found.items())


def caution_sources(protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return a line for each source of a caution: what it is of, then the source."""
    by_source: dict[str, list[str]] = {}
    for caution in protocol.cautions:
        first, _, _ = tr(caution.text).partition(".")
        by_source.setdefault(caution.source_id, []).append(f"“{first}”")
    return tuple(
        f"{', '.join(told)}: {cited(protocol, (source_id,))}"
        for source_id, told in by_source.items()
    )


def open_findings(
    earlier: Exam, protocol: SpeciesProtocol
) -> tuple[EarlierFinding, ...]:
    """Return what an earlier record leaves to be looked at again.

    Its own findings, and older ones that it did not call gone. A part that is not
    there is known with the animal and not asked for again.
    """
    own, again = found_then(earlier, protocol), found_again(earlier)
    # One that was described anew with the same words, or measured again, is asked once.
    said = {(finding.key, finding.summary) for finding in own}
    older = (
        replace(f, outcome=None)
        for f in earlier.earlier
        if f.outcome is not EarlierOutcome.GONE
        and (f.key, f.summary) not in said
        and f.finding_id not in again
    )
    return (*older, *own)
