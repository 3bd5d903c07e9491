"""Unlocking, locking and taking over, in a real browser."""

from tests.browser.prepared import PASSPHRASE


def test_passphrase_opens_the_exams_and_a_wrong_one_says_so(phone, prepared):
    phone.open(prepared.first_address())
    phone.type("unlock-secret", "not the passphrase")
    phone.shot("unlock-phone")
    phone.click("unlock-open")
    phone.wait_text("unlock-problem", "does not open these exams")
    phone.shot("unlock-wrong-phone")
    phone.type("unlock-secret", PASSPHRASE)
    phone.click("unlock-open")
    phone.wait("examiner")
    phone.shot("day-phone")
