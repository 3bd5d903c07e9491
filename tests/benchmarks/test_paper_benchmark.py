"""How long a sheet takes and how large it is, without photographs.

The goals are 300 ms and 150 kB; the size is held by the properties of ``tests/paper``,
the time is only measured, on whatever else the machine does.
"""

import time

import pytest

from exam_app.app.view.round_presenter import columns_offered
from exam_app.domain.animal.signalment import Sex
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.written_record import write_record
from exam_app.paper.fonts import Font
from exam_app.paper.kennel import kennel_sheet
from exam_app.paper.lists import round_sheet
from exam_app.paper.printing import print_blank_form
from exam_app.paper.record import RecordFacts, record_sheet
from exam_app.paper.sheet import PageSize
from exam_app.paper.take_home import TakeHome, take_home_sheet
from exam_app.protocols.loader import load_protocol
from exam_app.resources import fallback_font
from tests.paper.test_lists import round_of
from tests.paper.test_record_sheet import SIGNED, driven
from tests.printed import pages_of

ROUNDS = 7


def sheets():
    """Return for each kind what makes it anew, its font read too."""
    exam, protocol = driven("dog", Scope.TECHNICIAN, Sex.FEMALE, 5)
    group, of_flock, rows = round_of("sheep", range(25))
    columns = columns_offered(of_flock, Role.TECHNICIAN)
    dog = load_protocol("dog")

    def with_font(make, *given):
        return lambda: make(*given, PageSize.A4, Font(fallback_font()))

    def record(size, font):
        written = write_record(exam, protocol)
        return record_sheet(RecordFacts(written, exam, protocol, SIGNED), size, font)

    return {
        "record": with_font(record),
        "take home": with_font(take_home_sheet, TakeHome(exam, protocol)),
        "kennel card": with_font(kennel_sheet, [exam]),
        "round of 25": with_font(round_sheet, group, of_flock, columns, rows),
        "blank form": with_font(
            print_blank_form, dog, Scope.TECHNICIAN, Setting.CLINIC
        ),
    }


@pytest.mark.benchmark
def test_how_long_each_sheet_takes():
    print("\n| sheet | ms | kB | pages |\n|---|---|---|---|")
    for name, make in sheets().items():
        took = []
        for _ in range(ROUNDS):
            began = time.process_time()
            pdf = make()
            took.append(time.process_time() - began)
        middle = sorted(took)[ROUNDS // 2]
        kilobytes, pages = len(pdf) / 1000, len(pages_of(pdf))
        print(f"| {name} | {middle * 1000:.0f} | {kilobytes:.1f} | {pages} |")
