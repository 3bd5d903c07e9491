"""What no record may say at once, looked for in the words of the record.

Each kind of contradiction is one entry of ``KINDS``: a name, and what it finds. A find
is a sentence that names both statements.
"""

from collections.abc import Callable, Iterator, Sequence

from exam_app.domain.exam.exam import Exam, keys_offered, vitals_in_scope, words_for
from exam_app.domain.exam.review import part_label, region_label, vital_label
from exam_app.domain.protocol.protocol import Region, SpeciesProtocol, split_key
from exam_app.domain.wording.written_record import WrittenRecord

CLEAN, FINDINGS = "No abnormality found", "Findings"
NOT_DONE, ABSENT = "Not examined, or only partly", "Not present"
VITALS, WHO = "Vitals", "Who and when"
REST = ", apart from that"
FOUND_NONE = "no abnormality found: "


class Said:
    """A record's words, by section and by part."""

    def __init__(
        self,
        exam: Exam,
        protocol: SpeciesProtocol,
        record: WrittenRecord,
        *,
        is_together: bool = False,
    ) -> None:
        self.is_together = is_together
        self.exam, self.protocol, self.record = exam, protocol, record
        self.words = words_for(exam)

    def lines(self, heading: str) -> tuple[str, ...]:
        found = (s.lines for s in self.record.sections if s.heading == heading)
        return next(found, ())

    def of(self, heading: str, key: str) -> list[str]:
        """Return what a section says of a part now, without its name."""
        region_id, side = split_key(key)
        whole = region_label(self.protocol, region_id, self.words)
        names = [region_label(self.protocol, key, self.words)]
        names += [f"{whole}, left and right"] if side else []
        found = []
        for line in self.lines(heading):
            for name in names:
                for rest in ("", REST):
                    start = f"{name}{rest}: "
                    if line.startswith(start):
                        found.append(line.removeprefix(start).split(" [")[0])
        return found

    def claimed(self, key: str) -> set[str]:
        """Return the claims that are made of a part, as written."""
        texts = list(self.of(CLEAN, key))
        texts += [
            text.removeprefix(FOUND_NONE)
            for text in self.of(FINDINGS, key)
            if text.startswith(FOUND_NONE)
        ]
        return {claim for text in texts for claim in text.split("; ")}


def both_spellings(region: Region, clause_ids) -> set[str]:
    return {
        text
        for clause in region.clauses
        if clause.clause_id in clause_ids
        for text in (clause.text, clause.plain)
        if text
    }


def claims_of(texts: set[str]) -> set[str]:
    """Split claims as a line of the record does."""
    return {part for text in texts for part in text.split("; ")}


def denied_claims(said: Said) -> Iterator[str]:
    """A claim beside a find, of now or found again, that denies it."""
    exam, protocol = said.exam, said.protocol
    everywhere = set(_everything_said(exam))
    for key in keys_offered(exam, protocol):
        region = protocol.region(split_key(key)[0])
        terms = {term.term_id: term for term in region.terms}
        here = [f.term_id for f in exam.entry(key).findings]
        here += [e.term_id for e in exam.earlier if e.key == key and e.still_there]
        ids = {c for t in here if t in terms for c in terms[t].negates}
        ids |= {c.clause_id for c in region.clauses if everywhere & {*c.denied_by}}
        both = said.claimed(key) & claims_of(both_spellings(region, ids))
        made = both - claims_of(
            both_spellings(region, {c.clause_id for c in region.clauses} - ids)
        )
        for claim in made:
            yield f"{key}: “{claim}” beside a find that denies it"


def _everything_said(exam: Exam) -> Iterator[str]:
    for key, entry in exam.regions.items():
        for finding in entry.findings:
            yield f"{split_key(key)[0]}/{finding.term_id}"
    for known in exam.earlier:
        if known.still_there:
            yield f"{split_key(known.key)[0]}/{known.term_id}"
    for vital_id, entry in exam.vitals.items():
        grade = (entry.grade.value,) if entry.grade else ()
        for word in (*entry.values, entry.rhythm, *grade):
            yield f"vital/{vital_id}/{word}"


def absent_and_examined(said: Said) -> Iterator[str]:
    """A part that is not present, and something claimed of it."""
    for key in keys_offered(said.exam, said.protocol):
        if said.of(ABSENT, key) and said.claimed(key):
            yield f"{key}: not present, and claimed free of abnormality"


def unexamined_and_claimed(said: Said) -> Iterator[str]:
    """A part that was not examined, and something claimed of it."""
    for key in keys_offered(said.exam, said.protocol):
        undone = said.of(NOT_DONE, key)
        whole = [t for t in undone if t.startswith(("not examined: ", "UNEXAMINED"))]
        if whole and said.claimed(key):
            yield f"{key}: {whole[0]}, and claimed free of abnormality"


def struck_and_claimed(said: Said) -> Iterator[str]:
    """A claim that was not seen, and made all the same."""
    for key in keys_offered(said.exam, said.protocol):
        for text in said.of(NOT_DONE, key):
            for claim in said.claimed(key):
                if f"not seen: {claim} (" in f"{text}":
                    yield f"{key}: “{claim}” not seen, and claimed"


def credited_and_undone(said: Said) -> Iterator[str]:
    """Somebody named as the examiner of what was not examined."""
    examined = [ln for ln in said.lines(WHO) if ln.startswith("Examined by")]
    for key in keys_offered(said.exam, said.protocol):
        label = region_label(said.protocol, key, said.words)
        undone = any(t.startswith("not examined: ") for t in said.of(NOT_DONE, key))
        found = said.of(FINDINGS, key)
        for line in examined:
            listed = _listed(line)
            if undone and not found and label in listed:
                yield f"{label}: not examined, and {line}"
            if said.of(ABSENT, key) and not found and label in listed:
                yield f"{label}: not present, and {line}"
    for vital in vitals_in_scope(said.exam, said.protocol):
        label = vital_label(vital, said.words)
        for line in examined:
            if label in _listed(line) and not _has_value(said, vital):
                yield f"{label}: no value, and {line}"


def _listed(line: str) -> list[str]:
    """Return the parts a line credits somebody with."""
    return line.partition(": ")[2].split("; ")


def _has_value(said: Said, vital) -> bool:
    labels = (f"{vital.label}: ", f"{vital_label(vital, said.words)}: ")
    return any(
        line.startswith(labels) and ": not done: " not in line.split(" [")[0]
        for line in said.lines(VITALS)
    )


def value_and_not_taken(said: Said) -> Iterator[str]:
    """A vital with a value that is listed as not taken, or not done."""
    left = [ln for ln in said.lines(NOT_DONE) if ln.startswith("Not required and not")]
    for vital in vitals_in_scope(said.exam, said.protocol):
        label = vital_label(vital, said.words)
        if not _has_value(said, vital):
            continue
        if any(label in ln.partition(": ")[2].split("; ") for ln in left):
            yield f"{label}: a value, and not taken"
        if f"{label}: NOT ANSWERED" in said.lines(NOT_DONE):
            yield f"{label}: a value, and not answered"
        undone = said.exam.vital(vital.vital_id).reason
        if undone and f"{label}: {undone}" in said.lines(NOT_DONE):
            yield f"{label}: a value, and not done"


def everything_and_gaps(said: Said) -> Iterator[str]:
    """Everything answered, beside a gap, a stop, or an open part."""
    top = said.record.headline
    everything = [line for line in top if line.startswith("Everything")]
    gap = [
        line
        for line in (*top, *said.lines(NOT_DONE))
        if line.startswith(("Not done:", "Stopped early", "Beside the finding"))
        or ": not examined: " in line
        or ": not seen: " in line
        or "UNEXAMINED" in line
        or "OPEN AGAIN" in line
        or "NOT ANSWERED" in line
    ]
    if everything and gap:
        yield f"{everything[0]}, and {gap[0]}"
    alone = [ln for ln in said.lines(WHO) if ln.endswith(": everything")]
    if alone and (gap or said.lines(NOT_DONE)):
        yield f"{alone[0]}, and {(*gap, *said.lines(NOT_DONE))[0]}"


def both_sexes(said: Said) -> Iterator[str]:
    """The parts of both sexes free of abnormality, or neither there.

    Two records that are read together may say so, where the view says that they do.
    """
    marked = any(line.startswith("SEX NOT SETTLED") for line in said.record.headline)
    if marked and said.is_together:
        return
    asserted, other = set(), set()
    for key in keys_offered(said.exam, said.protocol):
        sexes = said.protocol.region(split_key(key)[0]).sexes
        if len(sexes) == 1:
            if said.claimed(key):
                asserted.add(sexes)
            if "other sex" in said.of(ABSENT, key):
                other.add(sexes)
    if len(asserted) > 1:
        yield "the parts of both sexes are free of abnormality"
    if len(other) > 1 and not said.exam.animal.sex.kind:
        yield "the parts of both sexes are those of the other sex"


def neutered_words(said: Said) -> Iterator[str]:
    """A claim of an animal's sex or neuter status that cannot be true of it."""
    sex = said.exam.animal.sex
    is_neutered = "neutered" in sex.value
    for key in keys_offered(said.exam, said.protocol):
        region = said.protocol.region(split_key(key)[0])
        for clause in region.clauses:
            texts = claims_of({t for t in (clause.text, clause.plain) if t})
            others = [c for c in region.clauses if c is not clause]
            own = texts - claims_of({t for c in others for t in (c.text, c.plain) if t})
            wrong = clause.neutered and (clause.neutered == "yes") is not is_neutered
            of_other = clause.sexes and sex.kind and sex.kind not in clause.sexes
            if (wrong or of_other) and own & said.claimed(key):
                yield f"{key}: “{clause.text}” of an animal that is {sex.value}"


def corrections_unshown(said: Said) -> Iterator[str]:
    """A correction of which the words before or now are not in the record."""
    text = said.record.as_text()
    for one in said.exam.corrections:
        for words in (one.was, one.now):
            if one.item and words and words not in text:
                yield f"{one.item}: “{words}” is nowhere"


def again_and_gone(said: Said) -> Iterator[str]:
    """An earlier find that was measured again, and gone or not looked for."""
    for line in said.lines("Earlier findings"):
        is_away = any(f": {word}" in line for word in ("gone;", "not looked for;"))
        if "measured again" in line and is_away:
            yield line
    named = [one.same_as for _, one in _found(said.exam) if one.same_as]
    if len(named) > len(set(named)):
        yield "two finds are said to be the same earlier one"


def mark_elsewhere(said: Said) -> Iterator[str]:
    """A mark seen from one side, of a finding on the other; two marks of one number."""
    numbers = []
    for key, found in _found(said.exam):
        if found.mark is None:
            continue
        if not found.same_as:
            numbers.append(found.mark.number)
        sides = {found.mark.side, found.side or split_key(key)[1]}
        if {"left", "right"} <= sides and not said.is_together:
            yield f"{key}: {found.side}, and mark {found.mark}"
    if len(numbers) > len(set(numbers)):
        yield f"marks of one number: {numbers}"


def photo_elsewhere(said: Said) -> Iterator[str]:
    """A photograph of a find that is written with another part or side than it."""
    known = {found.finding_id: (key, found.side) for key, found in _found(said.exam)}
    others = {"left": "right", "right": "left"}
    for photo, line in zip(said.exam.photos, said.lines("Photographs"), strict=True):
        if photo.finding_id in known:
            key, side = known[photo.finding_id]
            part = f"{part_label(said.exam, said.protocol, key)}: "
            if not line.startswith(part) or line.startswith(
                f"{part}{others.get(side, '-')}, "
            ):
                yield f"{line}: {key} {side}"


def _found(exam: Exam):
    for key, entry in exam.regions.items():
        for found in entry.findings:
            yield key, found


KINDS: Sequence[tuple[str, Callable[[Said], Iterator[str]]]] = (
    ("a claim and a find that denies it", denied_claims),
    ("not present and examined", absent_and_examined),
    ("not examined and claimed", unexamined_and_claimed),
    ("not seen and claimed", struck_and_claimed),
    ("not examined and examined by", credited_and_undone),
    ("a value and not taken", value_and_not_taken),
    ("everything and a gap", everything_and_gaps),
    ("both sexes", both_sexes),
    ("of another sex or neuter status", neutered_words),
    ("a correction that is not shown", corrections_unshown),
    ("measured again and gone", again_and_gone),
    ("a mark elsewhere, or twice", mark_elsewhere),
    ("a photograph elsewhere", photo_elsewhere),
)


def contradictions(
    exam: Exam,
    protocol: SpeciesProtocol,
    record: WrittenRecord,
    *,
    is_together: bool = False,
) -> list[str]:
    """Return every contradiction of a record, each with its kind.

    Args:
        is_together: Whether it is the view of several records.
    """
    said = Said(exam, protocol, record, is_together=is_together)
    return [f"{kind}: {found}" for kind, look in KINDS for found in look(said)]
