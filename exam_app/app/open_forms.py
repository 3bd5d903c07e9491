"""What was entered on a vital's sheet before its count fills the screen.

Kept in memory only: a restart in the middle of a count opens the form anew.
"""

from dataclasses import dataclass

from exam_app.app.forms.vital_form import VitalForm


@dataclass(frozen=True, slots=True)
class OpenForm:
    """A form left for a count.

    Attributes:
        came_from: Route of the screen that its sheet lay over, to go back to.
    """

    form: VitalForm
    came_from: str


_forms: dict[tuple[str, str], OpenForm] = {}


def keep_form(exam_id: str, vital_id: str, form: VitalForm, came_from: str) -> None:
    """Keep a form until its count is taken."""
    _forms[exam_id, vital_id] = OpenForm(form, came_from)


def take_form(exam_id: str, vital_id: str) -> OpenForm | None:
    """Give the form kept for a count, once."""
    return _forms.pop((exam_id, vital_id), None)
