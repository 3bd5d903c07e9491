"""An empty list says what will stand there, and leads to where that is begun."""

import pytest

from tests.browser.in_process import unlocked
from tests.browser.prepared import prepare_folder


@pytest.fixture
def empty(tmp_path):
    """A page over a store without any exam."""
    with unlocked(prepare_folder(tmp_path / "exams")) as driver:
        yield driver


@pytest.mark.parametrize(
    ("route", "says", "way", "leads"),
    [
        (
            "/records",
            "Each exam that is closed will stand here",
            "records-begin",
            "/animals",
        ),
        ("/kennel", "will stand here with its card", "kennel-begin", "/animals"),
        (
            "/clinic/day-pack",
            "Those that are will stand here",
            "clinic-pack-pair",
            "/clinic/pair",
        ),
        (
            "/clinic/review",
            "Each one that does will stand here",
            "clinic-review-receive",
            "/clinic/receive",
        ),
    ],
)
def test_an_empty_list_says_what_will_stand_there_and_leads_there(
    empty, route, says, way, leads
):
    empty.go(route)
    empty.wait_text("screen", says)
    empty.click(way)
    empty.until(lambda: empty.route == leads, f"the way to {leads}")


@pytest.mark.parametrize(
    ("route", "says"),
    [
        ("/clinic/devices", "will stand here, with what it sent last"),
        ("/clinic/quarantine", "will stand here until a person decides"),
        ("/clinic/animals", "stand here side by side"),
    ],
)
def test_an_empty_list_without_a_way_says_what_will_stand_there(empty, route, says):
    empty.go(route)
    empty.wait_text("screen", says)
