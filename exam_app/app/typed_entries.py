"""What is typed in a form and not saved yet: it survives closing, lock and a kill.

Each form has a place, as ``EXAM_ID/given``, and notes there what is typed or chosen in
it. The words stay in memory, and a moment after the last letter in the store, beside
the draft and no part of it. A form that is opened again begins with them; what it
saves it forgets here.
"""

import asyncio
import inspect
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar

from exam_app.app.observed import Observed
from exam_app.domain.errors import ExamError
from exam_app.language.catalogue import to_translate
from exam_app.store.repositories.drafts import TypedWords

DELAY_SECONDS = 0.3
# Names, beside typed words, the hash of a picture that is kept and not saved yet.
PICTURE = "picture"
# What was answered about a line that is typed; it is nothing a person typed.
ANSWERS = "answers"


class UnsavedWordsError(ExamError):
    """An exam was to be closed while something typed in it was not saved."""

    advice: ClassVar[str] = to_translate(
        "Something was typed in this exam and not saved; the review names it. The exam "
        "is not closed. Save it where it was typed, or throw it away."
    )


Keep = Callable[[Callable[[], None]], Awaitable[None]]


@dataclass(slots=True)
class Unsaved:
    """The words of one place, with its name for a person."""

    label: str
    words: dict[str, str]

    def texts(self) -> list[str]:
        """Return what a person typed in it, without what was left empty."""
        typed = (text for name, text in self.words.items() if name != ANSWERS)
        return [text for text in typed if text.strip()]


@dataclass(eq=False)
class Changes(Observed):
    """How often something was typed or forgotten; for who shows what is not saved."""

    count: int = 0


@dataclass(slots=True, repr=False)
class TypedEntries:
    """Every place of this device where something is typed and not saved.

    Attributes:
        changes: Tells when the words of any place have become others.
        write: Runs something that writes, when its turn has come.
        store: Gives the open store's table; asked each time.
    """

    write: Keep
    store: Callable[[], TypedWords]
    changes: Changes = field(default_factory=Changes)
    _places: dict[str, Unsaved] = field(default_factory=dict)
    _waiting: set[str] = field(default_factory=set)
    _saving: "asyncio.Task[None] | None" = None

    def load(self) -> None:
        """Read what the store kept; what is typed here since stands."""
        for place, (label, words) in self.store().all().items():
            self._places.setdefault(place, Unsaved(label, words))

    def load_anew(self) -> None:
        """Read again what the store keeps, since something was taken out of it."""
        self._places.clear()
        self.load()

    def at(self, place: str, label: str) -> "Typed":
        """Give the words of a place, to begin a form with.

        Args:
            place: Printable ASCII, the same each time; an exam's begins with its id.
            label: Names the form for a person.
        """
        return Typed(self, place, label, was_kept=place in self._places)

    def of_exam(self, exam_id: str) -> tuple[Unsaved, ...]:
        """Return what is typed and not saved in an exam, in the order of its places.

        A field that was only emptied holds nothing that could be lost.
        """
        own = (p for p in sorted(self._places) if p.startswith(f"{exam_id}/"))
        found = (self._places[place] for place in own)
        return tuple(one for one in found if any(one.texts()))

    def words(self, place: str) -> dict[str, str]:
        """Return a copy of the words of a place."""
        kept = self._places.get(place)
        return dict(kept.words) if kept else {}

    def put(self, place: str, label: str, words: Mapping[str, str]) -> None:
        """Keep the words of a place; empty ones forget it."""
        if self.words(place) == words:
            return
        if words:
            self._places[place] = Unsaved(label, dict(words))
        else:
            del self._places[place]
        self._waiting.add(place)
        self._save_soon()
        self.changes.count += 1

    def forget_exam(self, exam_id: str) -> dict[str, Unsaved]:
        """Forget everything typed for an exam; return it by place."""
        own = {k: v for k, v in self._places.items() if k.startswith(f"{exam_id}/")}
        for place in own:
            self.put(place, "", {})
        return own

    def restore(self, unsaved: Mapping[str, Unsaved]) -> None:
        """Keep again what ``forget_exam`` returned."""
        for place, one in unsaved.items():
            self.put(place, one.label, one.words)

    async def settle(self) -> None:
        """Wait until the store has everything."""
        while self._saving is not None and not self._saving.done():
            await asyncio.shield(self._saving)

    def _save_soon(self) -> None:
        if self._saving is None or self._saving.done():
            loop = asyncio.get_running_loop()
            self._saving = loop.create_task(self._save())

    async def _save(self) -> None:
        while self._waiting:
            await asyncio.sleep(DELAY_SECONDS)
            places, self._waiting = self._waiting, set()
            try:
                await self.write(lambda due=places: self._store(due))  # type: ignore[misc]
            except ExamError:
                # Locked or no room: it stays in memory and goes with the next letter.
                self._waiting |= places
                return

    def _store(self, places: set[str]) -> None:
        table = self.store()
        for place in places:
            kept = self._places.get(place)
            table.put(place, kept.label if kept else "", kept.words if kept else {})


@dataclass(slots=True, repr=False)
class Typed:
    """One form's words: what was typed in it before, and what is typed now.

    Attributes:
        was_kept: Whether words were here when the form was opened.
    """

    entries: TypedEntries
    place: str
    label: str
    was_kept: bool = False

    def value(self, name: str, saved: str = "") -> str:
        """Return what is typed in a field; what is saved where nothing is."""
        return self.entries.words(self.place).get(name, saved)

    def note(self, name: str, text: str, saved: str = "") -> None:
        """Keep what stands in a field now, unless it is what is saved."""
        words = self.entries.words(self.place)
        if text == saved:
            words.pop(name, None)
        else:
            words[name] = text
        self.entries.put(self.place, self.label, words)

    def forget(self, *names: str) -> None:
        """Forget some fields, since what they hold is saved now."""
        words = self.entries.words(self.place)
        rest = {name: text for name, text in words.items() if name not in names}
        self.entries.put(self.place, self.label, rest)

    def drop(self) -> Mapping[str, str]:
        """Forget everything, since it is saved or thrown away; return what it was."""
        words = self.entries.words(self.place)
        self.entries.put(self.place, self.label, {})
        return words

    def restore(self, words: Mapping[str, str]) -> None:
        """Keep again what ``drop`` returned."""
        self.entries.put(self.place, self.label, words)

    def noting(
        self, name: str, saved: str, on_change: Callable[..., Any] | None
    ) -> Callable[..., Awaitable[None]]:
        """Return a handler that notes a field's text and then calls the form's own."""

        async def changed(event: Any) -> None:  # noqa: ANN401
            self.note(name, event.control.value or "", saved)
            if on_change is not None:
                takes_event = bool(inspect.signature(on_change).parameters)
                answer = on_change(event) if takes_event else on_change()
                if inspect.isawaitable(answer):
                    await answer

        return changed
