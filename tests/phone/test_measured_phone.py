"""What is put into a phone's app to measure it: it has to run where no tests are."""

from exam_app.exchange.exchange import Exchange
from tests.benchmarks.watched_phone import BEGIN, timed_start
from tests.browser.handed import NAMES
from tests.browser.prepared import in_store, prepare_folder


def test_a_measured_phone_begins_with_closed_exams_and_a_clinic(tmp_path):
    text = timed_start()
    started = {}
    exec(text.replace("begin(fill)\n", ""), started)
    folder = prepare_folder(tmp_path / "exams")

    def fill(vault):
        started["fill"](vault)
        return len(vault.closed.latest(10)), Exchange(vault).pairing.clinic()

    closed, clinic = in_store(folder, fill)
    assert BEGIN in text
    assert closed == len(NAMES)
    assert clinic is not None
