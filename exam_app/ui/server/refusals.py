"""What the local server says when it refuses: cause, what is safe, what next."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Refusal:
    """One reason to refuse a request.

    Attributes:
        status: The number that browsers are told.
        words: Sentences for the person before the screen.
    """

    status: int
    words: str


_NEW_LINK = (
    "Use the window that is already open, or press Enter where the app was started: "
    "a new link comes, which works once and for 30 seconds."
)
SPENT = Refusal(
    403,
    "This link was used before, or is older than 30 seconds. Nothing was changed. "
    + _NEW_LINK,
)
NOT_OURS = Refusal(
    403,
    "Something that is not the app's own page asked for this. Nothing was given and "
    "nothing was changed. " + _NEW_LINK,
)
CLOSED = Refusal(
    405, "This page only shows; nothing can be sent here. Nothing was changed."
)
NO_PLACE = Refusal(404, "There is nothing here. Nothing was changed. " + _NEW_LINK)
CROWDED = Refusal(
    431,
    "The browser sent more than any page of this app needs: other programs on this "
    "computer have left very many cookies for the address 127.0.0.1. Exams are "
    "untouched and the app runs on. Clear the cookies of 127.0.0.1 in the browser's "
    "settings, or use another browser or a private window; then press Enter where the "
    "app was started and open the new link. With --window the app has a browser "
    "window of its own, without foreign cookies.",
)
TOO_LONG = Refusal(
    431,
    "This request is longer than any that the page of this app makes. Nothing was "
    "changed. " + _NEW_LINK,
)
TOO_SLOW = Refusal(
    408,
    "This request did not come within ten seconds. Nothing was changed. Load the page "
    "again.",
)
UNREADABLE = Refusal(
    400, "This request could not be read. Nothing was changed. Load the page again."
)


def words_page(refusal: Refusal) -> bytes:
    """Write a refusal as a page that needs nothing else."""
    return (
        "<!doctype html><html lang=en><meta charset=utf-8><title>Not opened</title>"
        "<body style='font:20px sans-serif;max-width:32em;margin:3em auto;"
        f"padding:0 1em'><h1>This was not opened</h1><p>{refusal.words}</p>"
    ).encode()
