"""What is said of a photograph: in words, what it shows."""

from exam_app.app.forms.form import Ask
from exam_app.language.catalogue import tr


def caption_asked(start: str) -> tuple[Ask, ...]:
    """Ask what a photograph shows.

    Args:
        start: What is proposed, or was said before; may be empty.
    """
    return (
        Ask(
            "caption",
            tr("What it shows"),
            lines=2,
            start=start,
            required=tr("Say in a few words what the photograph shows."),
            identifier="photo-caption",
        ),
    )
