"""A failure is said over the screen, never instead of it."""

from tests.browser.prepared import unlock


def test_unforeseen_error_says_what_is_safe_and_leaves_the_screen(phone, prepared):
    unlock(phone, prepared)
    phone.go("/failing")
    phone.click("fail-now")
    phone.wait_text("mishap", "nobody foresaw")
    phone.wait_text("mishap", "What is safe")
    phone.shot("mishap-phone")
    phone.click("mishap-stay")
    phone.gone("mishap")
    phone.click("fail-refuse")
    phone.wait_text("refusal", "needs a reason")
    phone.shot("refusal-phone")
    phone.click("refusal-close")
    phone.click("fail-later")
    phone.wait_text("mishap", "broken in the background")
    phone.click("mishap-home")
    phone.gone("fail-now")
