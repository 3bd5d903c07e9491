"""No class of the screens is written out with everything that it holds.

Flet writes the repr of each message, and a handler that is a bound method brings the
repr of its owner: the whole exam and vault, hundreds of milliseconds at each tap.
"""

import dataclasses
import importlib
import pkgutil
import re

import flet as ft

import exam_app.ui

HOLDS_MUCH = re.compile(
    r"\b(Tab|ExamEditor|Session|Vault|VitalEdit|Slot|Field|ExamView|Frame|ft\.\w+)\b"
)


def ui_dataclasses():
    for found in pkgutil.walk_packages(exam_app.ui.__path__, "exam_app.ui."):
        module = importlib.import_module(found.name)
        for kind in vars(module).values():
            is_own = isinstance(kind, type) and kind.__module__ == found.name
            # A kind of Flet's own control is written out as Flet writes controls.
            is_own = is_own and not issubclass(kind, ft.BaseControl)
            if is_own and dataclasses.is_dataclass(kind):
                yield kind


def holds_much(kind):
    types = [field.type for field in dataclasses.fields(kind)]
    types += [one for each in types for one in getattr(each, "__args__", ())]
    return any(
        HOLDS_MUCH.search(str(getattr(one, "__name__", one)))
        or getattr(one, "__module__", "").startswith("flet")
        for one in types
    )


def test_no_class_that_holds_a_tab_or_a_control_writes_itself_out():
    wordy = [
        kind.__qualname__
        for kind in ui_dataclasses()
        if holds_much(kind) and kind.__dataclass_params__.repr
    ]
    assert wordy == []


def test_screens_that_hold_a_tab_are_found_by_this_test():
    found = {kind.__name__ for kind in ui_dataclasses() if holds_much(kind)}
    assert {"VitalEdit", "DetailsSheet", "RegionRow", "Field", "ChoiceRow"} <= found
