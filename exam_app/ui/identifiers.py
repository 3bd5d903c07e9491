"""Every control's identifier, in one place, and how a control gets one.

Identifiers are for finding a control (by tests and by assistive tools), are never
spoken, and never hold anything about a patient. One that belongs to a region, a
person or a choice ends in that thing's own key: ``region-left-eye``.
"""

import flet as ft

SCREEN = "screen"
COVER = "cover"
BACK = "back"
EXAMINER = "examiner"
SAVED = "saved"
SHEET = "sheet"
SHEET_CLOSE = "sheet-close"
TOLD = "told"
TOLD_UNDO = "told-undo"
TOLD_CLOSE = "told-close"
REFUSAL = "refusal"
REFUSAL_CLOSE = "refusal-close"
MISHAP = "mishap"
MISHAP_STAY = "mishap-stay"
MISHAP_HOME = "mishap-home"

SETUP_NEXT = "setup-next"
SETUP_PRACTICE = "setup-practice"
SETUP_PHONE = "setup-phone"
SETUP_PASSPHRASE = "setup-passphrase"
SETUP_PASSPHRASE_AGAIN = "setup-passphrase-again"
SETUP_STRENGTH = "setup-strength"
SETUP_RECOVERY_CODE = "setup-recovery-code"
SETUP_RECOVERY_TYPED = "setup-recovery-typed"
SETUP_PROBLEM = "setup-problem"

UNLOCK_SECRET = "unlock-secret"
UNLOCK_OPEN = "unlock-open"
UNLOCK_OTHER_WAY = "unlock-other-way"
UNLOCK_PROBLEM = "unlock-problem"
UNLOCK_CLINIC = "unlock-clinic"

LOCK_PIN = "lock-pin"
LOCK_OPEN = "lock-open"
LOCK_PROBLEM = "lock-problem"
LOCK_PASSPHRASE = "lock-passphrase"
LOCK_NOW = "lock-now"

PERSON_NAME = "person-name"
PERSON_INITIALS = "person-initials"
PERSON_LICENCE = "person-licence"
PERSON_PIN = "person-pin"
PERSON_PIN_AGAIN = "person-pin-again"
PERSON_ADD = "person-add"
PERSON_SAVE = "person-save"
PERSON_PROBLEM = "person-problem"

CODE_MISSING = "code-missing"
CODE_MISSING_OPEN = "code-missing-open"
SETTINGS_OPEN = "settings-open"
PEOPLE_OPEN = "people-open"
SETTINGS_PRACTICE = "settings-practice"
SETTINGS_PHONE = "settings-phone"
SETTINGS_SAVE = "settings-save"
SETTINGS_PASSPHRASE = "settings-passphrase"
SETTINGS_PASSPHRASE_OLD = "settings-passphrase-old"
SETTINGS_PASSPHRASE_NEW = "settings-passphrase-new"
SETTINGS_PASSPHRASE_AGAIN = "settings-passphrase-again"
SETTINGS_PASSPHRASE_SAVE = "settings-passphrase-save"
SETTINGS_RECOVERY = "settings-recovery"
SETTINGS_RECOVERY_CODE = "settings-recovery-code"
SETTINGS_ABOUT = "settings-about"
SETTINGS_PROBLEM = "settings-problem"


def for_choice(group: str, key: str) -> str:
    """Name one button of a group of choices."""
    return f"{group}-{key}"


def for_person(person_id: str) -> str:
    """Name the button that chooses a person."""
    return f"person-{person_id}"


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
        identifier: One of this module.
        control: Any control; it keeps its own role and texts.
        label: Spoken name, for a control that shows none.
        live: Whether a change of its text is spoken at once.
        expand: As for any control in a row or column.
    """
    return ft.Semantics(
        content=control,
        identifier=identifier,
        label=label,
        live_region=live or None,
        container=True,
        expand=expand,
    )
