"""What the player paints, by Chromium's own screencast, and the codes in it."""

import base64
import time

from tests.browser.codes import code_in

WATCHED_SECONDS = 8


def watch(driver):
    """Give time and picture of every frame painted while the player runs."""
    painted, session = [], driver.page.context.new_cdp_session(driver.page)

    def keep(event):
        painted.append((event["metadata"]["timestamp"], event["data"]))
        session.send("Page.screencastFrameAck", {"sessionId": event["sessionId"]})

    session.on("Page.screencastFrame", keep)
    session.send("Page.startScreencast", {"format": "png", "everyNthFrame": 1})
    until = time.monotonic() + WATCHED_SECONDS
    while time.monotonic() < until:
        driver.page.wait_for_timeout(100)
    session.send("Page.stopScreencast")
    session.detach()
    return painted


def codes_of(painted):
    """Give time and text of each code that differs from the one before it.

    Returns:
        Those, and how many frames held no readable code.
    """
    codes, unreadable = [], 0
    for at, picture in painted:
        code = code_in(base64.b64decode(picture))
        unreadable += not code
        if code and (not codes or codes[-1][1] != code):
            codes.append((at, code))
    return codes, unreadable
