"""Say in plain words how well a passphrase protects."""

from exam_app.language.catalogue import tr
from exam_app.store.engine.keys import LONGEST_SECRET
from exam_app.store.errors import PassphraseTooLongError

LEAST_LENGTH = 10


def passphrase_problem(passphrase: str, again: str) -> str:
    """Name what is wrong with a new passphrase; empty if it may be used.

    The least length is common practice, no source; what makes it strong is that it
    is long and not a saying that others know.
    """
    if len(passphrase) < LEAST_LENGTH:
        return tr(
            "Use at least {least} characters; four words are easiest.",
            least=LEAST_LENGTH,
        )
    if len(passphrase) > LONGEST_SECRET:
        return tr(PassphraseTooLongError.advice)
    if passphrase != again:
        return tr("The two passphrases differ. Type the second one again.")
    return ""


def passphrase_note(passphrase: str) -> str:
    """Give one sentence on the strength of what is typed so far."""
    words = len(passphrase.split())
    if not passphrase:
        return tr("Four or more words that do not belong together are strong.")
    if len(passphrase) < LEAST_LENGTH:
        return tr("Too short: it could be found by trying.")
    if len(set(passphrase)) < 6:
        return tr("Weak: few different characters.")
    if words >= 4 or len(passphrase) >= 20:
        return tr("Strong, unless it is a saying that others know.")
    return tr("Fair. One or two more words make it strong.")
