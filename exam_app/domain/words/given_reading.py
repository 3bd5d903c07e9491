"""What was given: product, dose and route as they were said, and always a question.

A product is any word, so nothing tells a medicine from a misheard word: the person
confirms it by itself, with the dose in the very words that were said.
"""

from exam_app.domain.words.items import Doubt, ItemKind
from exam_app.domain.words.tokens import Sense, Token
from exam_app.domain.words.walk import Walk

_LONGEST_PRODUCT = 4


def begins_given(walk: Walk, i: int, token: Token) -> bool:
    """Whether a sentence begins here that says what was given."""
    if not token.has(Sense.GIVING):
        return False
    before = walk.at(i - 1) if i else None
    return before is None or before.start in walk.hard or before.raw == ","


def read_given(walk: Walk, i: int) -> int:
    """Read a sentence of what was given, to its end; return where to go on."""
    first = walk.tokens[i]
    walk.leave_parts()
    walk.opened = len(walk.items)
    end = i + 1
    product: list[Token] = []
    dose: list[Token] = []
    route = ""
    is_plain = True
    while end < len(walk.tokens) and not _ends(walk, walk.tokens[end]):
        token = walk.tokens[end]
        if token.is_number and walk.at(end + 1).has(Sense.DOSE) and not dose:
            dose, end = [token, walk.at(end + 1)], end + 2
            continue
        if token.has(Sense.ROUTE) and not route:
            route = token.first(Sense.ROUTE).place
        elif token.raw.isalpha() and not token.has(Sense.FILL):
            product.append(token)
            is_plain = is_plain and not token.has(Sense.DOUBT)
        elif not token.has(Sense.FILL):
            is_plain = False
        end += 1
    is_named = 0 < len(product) <= _LONGEST_PRODUCT and is_plain
    is_measured = bool(dose) and not dose[0].is_doubtful
    if not is_named or not is_measured:
        for token in walk.tokens[i:end]:
            walk.not_understood(token, is_flag=True)
        return end
    last = walk.tokens[end - 1]
    draft = walk.add(ItemKind.GIVEN, ("given",), first, last.end)
    draft.value = " ".join(token.raw for token in product)
    draft.dose = walk.text[dose[0].start : dose[1].end]
    draft.route = route
    draft.doubt(Doubt.DOSE)
    walk.opened = len(walk.items)
    return end


def _ends(walk: Walk, token: Token) -> bool:
    return token.start in walk.hard or token.raw == ","
