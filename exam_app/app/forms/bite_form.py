"""What is asked of bites: one block for each person, then what concerns rabies."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any

from exam_app.app.forms.form import Ask
from exam_app.domain.exam.visit import BiteHistory, Bitten
from exam_app.domain.moments import Moment
from exam_app.language.catalogue import to_translate, tr

_FIRST_AID = (to_translate("washed at once"), to_translate("not washed yet"))
_TOLD = (
    to_translate("nobody yet"),
    to_translate("the owner"),
    to_translate("a physician"),
    to_translate("the health office"),
)
_OF_BLOCK = ("who", "when", "first_aid", "told")
_RABIES = (
    Ask(
        "rabies_concern",
        to_translate("Other rabies concern"),
        to_translate("Other worry about rabies"),
        is_more=True,
    ),
    Ask(
        "rabies_vaccine",
        to_translate("Rabies vaccine"),
        hint=to_translate(
            "As on the certificate: product, date, lot, valid until, who gave it."
        ),
        lines=2,
        is_more=True,
    ),
    Ask("quarantine", to_translate("Quarantine: dates"), is_more=True),
)


@dataclass(frozen=True, slots=True)
class BitesAsked:
    """The bites of an exam as a sheet asks for them.

    Attributes:
        before: What was said when the sheet was opened.
        blocks: Those recorded then, and a further one that is asked for.
        now: Offered as the time of a bite.
    """

    before: BiteHistory
    blocks: tuple[Bitten, ...]
    now: Moment

    @property
    def asks(self) -> tuple[Ask, ...]:
        """Return the fields of every block, then of the rest."""
        blocks = (self._block(*numbered) for numbered in enumerate(self.blocks))
        return (*(ask for block in blocks for ask in block), *_RABIES)

    def texts(self) -> dict[str, str]:
        """Return what is said already, by field."""
        texts = {ask.name: getattr(self.before, ask.name) for ask in _RABIES}
        for place, block in enumerate(self.blocks):
            for name in _OF_BLOCK:
                texts[_named(name, place, block)] = getattr(block, name)
        return texts

    def said(self, texts: Mapping[str, str]) -> BiteHistory:
        """Return the bites as typed; one whose fields were all emptied is none."""
        blocks = tuple(_block_said(n, b, texts) for n, b in enumerate(self.blocks))
        rest: dict[str, Any] = {ask.name: texts[ask.name] for ask in _RABIES}
        return replace(
            self.before.with_blocks(tuple(b for b in blocks if replace(b, name=""))),
            **rest,
        )

    def nobody_bitten(self, texts: Mapping[str, str]) -> tuple[str, str]:
        """Return the field that must say who was bitten, and a sentence; empty if said.

        A time or first aid that names nobody would be somebody's by guess.
        """
        for place, block in enumerate(self.blocks):
            who, *rest = (_named(name, place, block) for name in _OF_BLOCK)
            if any(texts[name] for name in rest) and not texts[who]:
                if block.is_examiner:
                    return who, tr(
                        "Say where it bit or scratched you, or empty what is below."
                    )
                return who, tr("Say whom it bit or scratched, or empty what is below.")
        return "", ""

    def _block(self, place: int, block: Bitten) -> tuple[Ask, ...]:
        day = self.now.local()
        now = f"{day:%Y-%m-%d %H:%M}"
        days = tuple(f"{one:%Y-%m-%d}" for one in (day, day - timedelta(days=1)))
        hint = tr("Date and time, as 2026-11-29 14:05: quarantine is counted from it.")
        is_own = block.is_examiner
        who = (
            Ask(
                "who", tr("Where it bit or scratched you"), block=tr("You, who examine")
            )
            if is_own
            else Ask(
                "who",
                tr("Whom it bit or scratched"),
                hint=tr("A person or an animal, in the last ten days, as told."),
                block=tr("Somebody else"),
            )
        )
        did = tr("What you did at once") if is_own else tr("What they did at once")
        asks = (
            who,
            Ask(
                "when",
                tr("When"),
                hint=hint,
                options=(now, *(f"{one}, time not known" for one in days)),
                option_labels=(
                    now,
                    *(tr("{day}, time not known", day=one) for one in days),
                ),
            ),
            Ask("first_aid", did, options=_FIRST_AID),
            Ask("told", tr("Who was told of it"), options=_TOLD),
        )
        return tuple(replace(ask, name=_named(ask.name, place, block)) for ask in asks)


def bites_asked(
    bite: BiteHistory | None, now: Moment, typed: Mapping[str, str], more: str = ""
) -> BitesAsked:
    """Return what a sheet of bites asks.

    Args:
        typed: Kept from an earlier sheet, by field: its further block stands again.
        more: A further bite is asked for: ``other`` or ``own``.
    """
    before = bite or BiteHistory()
    blocks, further = before.blocks, (Bitten(), Bitten(is_examiner=True))
    kept = {name for name, text in typed.items() if text.strip()}
    wanted = [
        one
        for one in further
        if (more == "own" if one.is_examiner else more == "other")
        or kept & {_named(name, len(blocks), one) for name in _OF_BLOCK}
    ]
    if not blocks and not wanted:
        wanted = [further[0]]
    return BitesAsked(before, (*blocks, *wanted[:1]), now)


def _block_said(place: int, block: Bitten, texts: Mapping[str, str]) -> Bitten:
    said: dict[str, Any] = {n: texts[_named(n, place, block)] for n in _OF_BLOCK}
    return replace(block, **said)


def _named(name: str, place: int, block: Bitten) -> str:
    """Name a field of a block, another one for the examiner's own."""
    return f"{name}-{place}{'-own' * block.is_examiner}"
