"""The first screen after unlocking: what is open and what was closed."""

from typing import TYPE_CHECKING

from exam_app.ui.parts.texts import paragraph
from exam_app.ui.screen import Screen

if TYPE_CHECKING:
    from exam_app.ui.tab import Tab


async def build(tab: "Tab") -> Screen:
    """Build the first screen."""
    practice = tab.vault.settings.get("practice", "")
    return Screen(title="Today", subtitle=practice, body=[paragraph("No exams yet.")])
