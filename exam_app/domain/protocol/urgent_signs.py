"""What has to be told to a veterinarian, and the values and grades that open it."""

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class Trigger:
    """A value or a numbered grade that opens an urgent sign.

    Attributes:
        vital_id: The vital compared.
        below, above: Limits in the vital's unit, or grades, as decimal text; the limit
            itself does not open the sign. One of them at least. With ``above`` the
            smaller of the two, only what lies between them opens it.
        life_stages: Life stages the limit holds for; empty for every stage.
        or_unknown_age: Whether it holds too where the age is not known.
        states: States of the animal it holds for, as ``resting``; empty for any.
        settings: Settings it holds for, as ``home``; empty for any.
        counted_twice: Whether a second count must lie beyond the limit too.
        source_id: Its source; empty for the sign's own.
    """

    vital_id: str
    below: str = ""
    above: str = ""
    life_stages: tuple[str, ...] = ()
    or_unknown_age: bool = False
    states: tuple[str, ...] = ()
    settings: tuple[str, ...] = ()
    counted_twice: bool = False
    source_id: str = ""

    @property
    def is_band(self) -> bool:
        """Whether what opens the sign lies between the two limits."""
        if not (self.below and self.above):
            return False
        return Decimal(self.above) < Decimal(self.below)


@dataclass(frozen=True, slots=True)
class UrgentSign:
    """A sign that must be told to a veterinarian.

    Attributes:
        action: What to do, in the sign's own words and urgency.
        vital_id: Vital whose value opens it, or empty.
        below, above: Limits in the vital's unit as decimal text, or empty.
        life_stages: Life stages the limit holds for; empty for every stage.
        on_button: Whether the always-visible urgent button lists it.
        stops_handling: Whether its action is not to restrain the animal any more.
        triggers: More values and grades that open it, each with its own conditions.
        sexes: Sexes it is offered for on the button; empty for every sex.
        group: Heading under which the button lists it; without one it is listed last.
    """

    sign_id: str
    label: str
    plain: str
    action: str
    vital_id: str = ""
    below: str = ""
    above: str = ""
    life_stages: tuple[str, ...] = ()
    on_button: bool = True
    stops_handling: bool = False
    source_id: str = "common_practice"
    triggers: tuple[Trigger, ...] = ()
    sexes: tuple[str, ...] = ()
    group: str = ""

    def every_trigger(self) -> tuple[Trigger, ...]:
        """Return what opens it by value: its own limits first, then the others."""
        if not self.vital_id:
            return self.triggers
        own = Trigger(self.vital_id, self.below, self.above, self.life_stages)
        return (own, *self.triggers)

    def every_source(self) -> tuple[str, ...]:
        """Return the ids of its sources: its own, then those of its triggers."""
        more = (trigger.source_id for trigger in self.triggers if trigger.source_id)
        return (self.source_id, *more)
