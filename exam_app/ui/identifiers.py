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

# Vitals, counts, urgent answers, review, closing and the written record.
VITAL = "vital"
VITAL_SHEET = "vital-sheet"
VITAL_TYPED = "vital-typed"
VITAL_SAVE = "vital-save"
VITAL_ASKED = "vital-asked"
VITAL_ASKED_YES = "vital-asked-yes"
VITAL_ASKED_NO = "vital-asked-no"
VITAL_FLAG = "vital-flag"
VITAL_FLAG_SEEN = "vital-flag-seen"
VITAL_RECOUNT = "vital-recount"
VITAL_KEEP_COUNT = "vital-keep-count"
VITAL_UNIT = "vital-unit"
VITAL_SITE = "vital-site"
VITAL_STATE = "vital-state"
VITAL_WORD = "vital-word"
VITAL_GRADE = "vital-grade"
VITAL_REASON = "vital-reason"
VITAL_REASON_TYPED = "vital-reason-typed"
VITAL_REASON_SAVE = "vital-reason-save"
VITAL_RHYTHM = "vital-rhythm"
VITAL_BEATS_FELT = "vital-beats-felt"
VITAL_ESTIMATE = "vital-estimate"
VITAL_CLEAR = "vital-clear"
VITAL_COUNT = "vital-count"
VITAL_TAP = "vital-tap"
VITAL_TYPE = "vital-type"
PAD = "pad"
COUNT_FACE = "count-face"
COUNT_WINDOW = "count-window"
COUNT_TYPED = "count-typed"
COUNT_USE = "count-use"
COUNT_AGAIN = "count-again"
COUNT_CANCEL = "count-cancel"
TAP_PAD = "tap-pad"
TAP_USE = "tap-use"
TAP_AGAIN = "tap-again"
URGENT_SHEET = "urgent-sheet"
URGENT_KIND = "urgent-kind"
URGENT_WHOM = "urgent-whom"
URGENT_HOW = "urgent-how"
URGENT_WHEN = "urgent-when"
URGENT_INSTRUCTION = "urgent-instruction"
URGENT_READ_BACK = "urgent-read-back"
URGENT_ANSWER_SAVE = "urgent-answer-save"
URGENT_CLINIC = "urgent-clinic"
REVIEW_POINT = "review-point"
REVIEW_STATUS = "review-status"
REVIEW_CLOSE = "review-close"
REVIEW_WRITTEN = "review-written"
REVIEW_UNDO = "review-undo"
CLOSE_PIN = "close-pin"
CLOSE_SIGN = "close-sign"
CLOSE_PROBLEM = "close-problem"
STOP_EARLY = "stop-early"
STOP_REASON = "stop-reason"
STOP_NOTE = "stop-note"
STOP_CONFIRM = "stop-confirm"
RECORD_TEXT = "record-text"
RECORD_COPY = "record-copy"
RECORD_CONTINUE = "record-continue"
RECORD_SIGNED = "record-signed"


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


# The day, the animals and the exam from nose to tail.
DAY_NEW = "day-new"
DAY_DRAFT = "day-draft"
DAY_CLOSED = "day-closed"
ANIMAL_SEARCH = "animal-search"
ANIMAL_ADD = "animal-add"
ANIMAL = "animal"
ANIMAL_SAVE = "animal-save"
ANIMAL_EDIT = "animal-edit"
ANIMAL_EXAM = "animal-exam"
ANIMAL_PROBLEM = "animal-problem"
ANIMAL_NAME = "animal-name"
ANIMAL_SEX = "animal-sex"
ANIMAL_AGE_BASIS = "animal-age-basis"
ANIMAL_AGE = "animal-age"
ANIMAL_AGE_UNIT = "animal-age-unit"
ANIMAL_BIRTH = "animal-birth"
ANIMAL_BREED = "animal-breed"
ANIMAL_COLOUR = "animal-colour"
ANIMAL_CHIP = "animal-chip"
ANIMAL_CHIP_NOTE = "animal-chip-note"
ANIMAL_TAG = "animal-tag"
ANIMAL_PLACE = "animal-place"
ANIMAL_BEHAVIOUR = "animal-behaviour"
ANIMAL_DANGERS = "animal-dangers"
OWNER_NAME = "owner-name"
OWNER_PHONE = "owner-phone"
OWNER_ADDRESS = "owner-address"

START_SCOPE = "start-scope"
START_SETTING = "start-setting"
START_FOCUS = "start-focus"
START_CAUTIONS = "start-cautions"
START_GO = "start-go"
START_PROBLEM = "start-problem"

EXAM_PROGRESS = "exam-progress"
EXAM_JUMP = "exam-jump"
EXAM_URGENT = "exam-urgent"
EXAM_UNDO = "exam-undo"
EXAM_REVIEW = "exam-review"
EXAM_STOP = "exam-stop"
EXAM_VITALS = "exam-vitals"
EXAM_LIST = "exam-list"
EXAM_NEXT = "exam-next"
EXAM_WRITER = "exam-writer"
URGENT_BANNER = "urgent-banner"
URGENT_ANSWER = "urgent-answer"
URGENT_SIGN = "urgent-sign"
URGENT_WORDS = "urgent-words"
URGENT_WORDS_SAVE = "urgent-words-save"

REGION = "region"
REGION_NORMAL = "normal"
REGION_FINDING = "finding"
REGION_MORE = "more"
REGION_OPEN = "open"
REGION_STATE = "state"
REGION_EARLIER = "earlier"
REGION_ABSENT = "absent"
FINDING_SIDE = "finding-side"
FINDING_TERM = "finding-term"
FINDING_LINE = "finding-line"
FINDING_WORDS = "finding-words"
FINDING_WORDS_SAVE = "finding-words-save"
FINDING_DONE = "finding-done"
FINDING_REMOVE = "finding-remove"
FINDING_CALL = "finding-call"
FINDING_SEVERITY = "finding-severity"
FINDING_QUALITY = "finding-quality"
FINDING_PLACE = "finding-place"
FINDING_PLACE_WORDS = "finding-place-words"
FINDING_EXTENT = "finding-extent"
FINDING_SINCE = "finding-since"
FINDING_SINCE_WORDS = "finding-since-words"
FINDING_NOTE = "finding-note"
FINDING_GRADE = "finding-grade"
LUMP_SIZE = "lump-size"
LUMP_SECOND = "lump-second"
LUMP_UNIT = "lump-unit"
LUMP_TOOL = "lump-tool"
LUMP_DIRECTION = "lump-direction"
LUMP_DEPTH = "lump-depth"
LUMP_FEEL = "lump-feel"
LUMP_MOVES = "lump-moves"
LUMP_SURFACE = "lump-surface"
LUMP_PAIN = "lump-pain"
LUMP_SAVE = "lump-save"
LUMP_PROBLEM = "lump-problem"
MORE_SIDE = "more-side"
MORE_CHOICE = "more-choice"
MORE_REASON = "more-reason"
MORE_WORDS = "more-words"
MORE_WORDS_SAVE = "more-words-save"
STRIKE = "strike"
STRIKE_REASON = "strike-reason"


def for_region(key: str, what: str) -> str:
    """Name a control of a region: ``region-eyes.left-normal``."""
    return f"{REGION}-{key}-{what}"
