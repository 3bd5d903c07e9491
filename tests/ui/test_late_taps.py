"""A tap made while the next part was being drawn was meant for the one before."""

from dataclasses import dataclass

from exam_app.app import exam_view
from exam_app.domain.protocol.protocol import Scope
from exam_app.ui.exam import exam_panes
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.in_process import unlocked


@dataclass
class SteadyClock:
    """A clock that goes on only when it is told to."""

    now: float = 1000.0

    def monotonic(self) -> float:
        return self.now


def test_a_tap_made_while_the_next_part_was_drawn_does_not_answer_it(
    tmp_path, monkeypatch
):
    clock = SteadyClock()
    monkeypatch.setattr(exam_view, "GUARD_SECONDS", 0.35)
    monkeypatch.setattr(exam_view, "time", clock)
    show = exam_panes.Strip.show

    def show_slowly(strip, place):
        clock.now += 0.5
        show(strip, place)

    monkeypatch.setattr(exam_panes.Strip, "show", show_slowly)
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("eyes", "nose"))
    with unlocked(folder) as phone:
        phone.go(f"/exam/{EXAM_ID}")
        phone.wait("exam-progress")
        clock.now += 1
        phone.click("region-eyes-normal")
        phone.wait_text("exam-progress", "2 of 3")
        clock.now += 0.1
        phone.click("region-nose-normal")
        phone.wait_text("region-nose-normal", "Nose")
        assert "2 of 3" in phone.text("exam-progress")
        clock.now += 0.4
        phone.click("region-nose-normal")
        phone.wait_text("exam-progress", "3 of 3")
