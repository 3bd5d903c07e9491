"""One check of a PIN before something is signed by name, wherever it is asked for."""

from exam_app.app.exam_sessions import person_now
from exam_app.store.errors import PinLockedError
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.fields import Field


async def pin_fits(tab: Tab, pin: Field, safe: str = "Nothing was changed.") -> bool:
    """Check the PIN of the person at the screen; a wrong one is said below its field.

    Args:
        safe: What a wrong PIN left as it was, as a sentence.

    Raises:
        PinLockedError: The fifth wrong one: the exams are sealed and covered already.
    """
    person, vault, typed = person_now(tab.session), tab.vault, pin.typed
    try:
        fits = await tab.session.write(
            lambda: vault.people.check_pin(person.person_id, typed)
        )
    except PinLockedError:
        tab.close_sheet()
        tab.session.seal()
        tab.cover()
        raise
    if not fits:
        pin.clear()
        pin.show_problem(f"This PIN does not fit. {safe} Try again.")
    return fits
