"""What is asked of a part: which one, which side, which find, how much of its sentence.

"Eyes clear" says less than the sentence that one tap records: the sentence is shown
with what was said marked, and all of it is recorded only where all of it was seen.
"""

from dataclasses import replace

from exam_app.app.forms.finding_form import SIDE_LABELS
from exam_app.app.forms.lump_form import TOOLS
from exam_app.app.view.region_presenter import term_label
from exam_app.app.words.question import (
    ALL,
    DROP,
    YES,
    Answer,
    Question,
    as_remark,
    asking,
    without,
)
from exam_app.app.words.settled import Around, Settled
from exam_app.domain.protocol.protocol import split_key
from exam_app.domain.protocol.sex_limits import kin_keys, rival_keys
from exam_app.domain.words.items import Doubt, ItemKind
from exam_app.language.catalogue import tr

_MOST_PARTS = 8


def ask_where(around: Around, settled: Settled) -> Question | None:
    """Ask which part, or which of two vitals."""
    item = settled.item
    doubts = {Doubt.REGION, Doubt.WHICH} & item.doubts
    if not doubts:
        return None
    answers = [
        Answer(
            f"place:{place}",
            around.name_of(place),
            without(
                settled, *doubts, places=(place,), **_term_there(around, settled, place)
            ),
        )
        for place in item.places[:_MOST_PARTS]
    ]
    if Doubt.REGION in doubts and len(item.places) == 1:
        answers += [as_remark(settled)]
    return asking(tr("“{said}”: of which?", said=settled.said), *answers)


def _term_there(around: Around, settled: Settled, place: str) -> dict[str, object]:
    """Return the find of a part that the words name there, and whether it has sides."""
    region = around.words.regions.get(split_key(place)[0])
    if region is None or not settled.item.term_id:
        return {}
    own = around.words.find_in(region.region_id, settled.said) or settled.item.term_id
    found: dict[str, object] = {"term_id": own}
    if region.sides and "." not in place:
        found["doubts"] = settled.item.doubts - {Doubt.REGION, Doubt.WHICH} | {
            Doubt.SIDE
        }
    return found


def ask_side(around: Around, settled: Settled) -> Question | None:
    """Ask which side: it is never guessed."""
    if Doubt.SIDE not in settled.item.doubts:
        return None
    place = settled.item.places[0]
    region_id = split_key(place)[0]
    answers = [
        Answer(
            f"side:{side}",
            tr(label),
            without(settled, Doubt.SIDE, places=(f"{region_id}.{side}",)),
        )
        for side, label in SIDE_LABELS
        if side in ("left", "right")
    ]
    if settled.item.kind in (ItemKind.DENIED, ItemKind.NORMAL):
        both = (f"{region_id}.left", f"{region_id}.right")
        after = without(settled, Doubt.SIDE, places=both)
        answers.append(Answer("side:both", tr("Both"), after))
    return asking(
        tr(
            "{name}, “{said}”: which side?",
            name=around.name_of(region_id),
            said=settled.said,
        ),
        *answers,
    )


def ask_term(around: Around, settled: Settled) -> Question | None:
    """Ask whether the find that says more, or one of two, is meant."""
    if Doubt.TERM not in settled.item.doubts:
        return None
    item, region = settled.item, around.region(settled.item)
    term = region.term(item.term_id)
    label = term_label(around.exam, term) if term else item.term_id
    said = Answer(
        YES, tr("Yes: {find}", find=label.lower()), without(settled, Doubt.TERM)
    )
    text = tr(
        "{name}: “{said}”. Is it this?",
        name=around.name_of(item.places[0]),
        said=settled.said,
    )
    return asking(text, said, as_remark(settled))


def ask_negated(around: Around, settled: Settled) -> Question | None:
    """Ask whether a denial before a comma reaches this far."""
    if Doubt.NEGATED not in settled.item.doubts:
        return None
    name = around.name_of(settled.item.places[0])
    found = without(settled, Doubt.NEGATED)
    not_found = without(settled, Doubt.NEGATED, kind=ItemKind.DENIED)
    # The word that denies stands further up, and a remark has to hold it.
    not_found = replace(not_found, said=f"no {settled.said}")
    return asking(
        tr("{name}, “{said}”: found, or not found?", name=name, said=settled.said),
        Answer("found", tr("Found"), found),
        Answer("denied", tr("Not found"), not_found),
    )


def ask_sentence(around: Around, settled: Settled) -> Question | None:
    """Ask whether all of a part's sentence was seen: what was said is less."""
    item = settled.item
    if item.kind is not ItemKind.DENIED and Doubt.SENTENCE not in item.doubts:
        return None
    if item.places[0] in around.words.vitals:
        return None
    region, doubts = around.region(item), {Doubt.SENTENCE, Doubt.WORDS}
    said = {*item.claims}
    term = region.term(item.term_id)
    said |= {*(term.negates if term else ())}
    words = [f" {part.split()[-1]} " for part in settled.said.lower().split(", ")]
    claims = tuple(
        (tr(text), clause_id in said or any(w in f" {text.lower()} " for w in words))
        for clause_id, text in around.claims_of(item)
    )
    whole = without(settled, *doubts, kind=ItemKind.NORMAL, term_id="", claims=())
    name = around.name_of(item.places[0])
    question = Question(
        tr(
            "{name}: “{said}” is less than its whole sentence.",
            name=name,
            said=settled.said,
        ),
        (
            Answer(ALL, tr("All of this was seen"), whole),
            as_remark(settled),
            Answer(DROP, tr("Not this"), None),
        ),
        claims,
    )
    return question if claims else replace(question, answers=question.answers[1:])


def ask_tool(around: Around, settled: Settled) -> Question | None:
    """Ask what a lump was measured with; it is part of its size."""
    item = settled.item
    if item.kind is not ItemKind.FINDING or not item.sizes or settled.tool:
        return None
    term = around.region(item).term(item.term_id)
    if term is None or not term.is_lump:
        return None
    answers = [
        Answer(
            f"tool:{tool}",
            tr(label),
            replace(settled, tool=tool),
        )
        for tool, label in TOOLS
    ]
    return asking(tr("“{said}”: measured with what?", said=settled.said), *answers)


def ask_sex(around: Around, settled: Settled) -> Question | None:
    """Ask whose part it is, where an answer would say which sex an animal is."""
    item = settled.item
    if item.kind is not ItemKind.NORMAL or settled.is_confirmed:
        return None
    exam, protocol, region = around.exam, around.editor.protocol, around.region(item)
    rivals = rival_keys(exam, protocol, region)
    kin = kin_keys(exam, protocol, region)
    if not rivals or any(exam.entry(k).is_answered for k in (*rivals, *kin)):
        return None
    either = tr("or")
    sexes = f" {either} ".join(map(tr, region.sexes))
    yes = Answer(
        YES, tr("Yes, {sexes}", sexes=sexes), replace(settled, is_confirmed=True)
    )
    return asking(
        tr(
            "{name}: is it {sexes}?",
            name=around.name_of(item.places[0]),
            sexes=sexes,
        ),
        yes,
    )
