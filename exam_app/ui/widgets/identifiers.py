"""How a control gets its identifier.

Identifiers stand as words where the control is made. They are for finding a control
(by tests and by assistive tools), are never spoken, and never hold anything about a
patient. One that belongs to a region, a person or a choice ends in that thing's own
key: ``region-left-eye``.
"""

import flet as ft


def for_choice(group: str, key: str) -> str:
    """Name one button of a group of choices."""
    return f"{group}-{key}"


def for_region(key: str, what: str) -> str:
    """Name a control of a region: ``region-eyes.left-normal``."""
    return f"region-{key}-{what}"


def identified(
    identifier: str,
    control: ft.Control,
    *,
    label: str | None = None,
    live: bool = False,
    expand: bool | int | None = None,
) -> ft.Semantics:
    """Give a control an identifier and, where it has no words, a spoken label.

    Args:
        identifier: Finds the control; given to nothing else.
        control: Any control; it keeps its own role and texts.
        label: Spoken name, for a control that shows none.
        live: Whether a change of its text is spoken at once.
    """
    return ft.Semantics(
        content=control,
        identifier=identifier,
        label=label,
        live_region=live or None,
        container=True,
        expand=expand,
    )
