"""What was entered on a vital's sheet before its count fills the screen.

Kept in memory only: a restart in the middle of a count opens the form anew.
"""

from exam_app.ui.vital_form import VitalForm

_forms: dict[tuple[str, str], VitalForm] = {}


def keep_form(exam_id: str, vital_id: str, form: VitalForm) -> None:
    """Keep a form until its count is taken."""
    _forms[exam_id, vital_id] = form


def take_form(exam_id: str, vital_id: str) -> VitalForm | None:
    """Give the form kept for a count, once."""
    return _forms.pop((exam_id, vital_id), None)
