"""The quick walk over new controls finds and does what Flet's own walk does."""

import dataclasses

import flet as ft
import pytest
from flet.controls import object_patch
from flet.controls.base_control import BaseControl

from exam_app.ui.shell import quick_walk
from tests.browser.in_process import opened
from tests.browser.main_screens import FIELD, ids, show


def everything_in(value, seen):
    """Give each dataclass object in a value, and in its fields, once."""
    if id(value) in seen:
        return
    if dataclasses.is_dataclass(value):
        seen[id(value)] = value
        for field in dataclasses.fields(value):
            if not field.metadata.get("skip"):
                everything_in(getattr(value, field.name, None), seen)
    elif isinstance(value, dict | list):
        for inner in value.values() if isinstance(value, dict) else value:
            everything_in(inner, seen)


def states_of(found):
    """What a walk notes beside each object: around it, frozen, known, changed."""
    return {
        key: (
            parent() if (parent := getattr(one, "_parent", None)) else None,
            getattr(one, "_frozen", None),
            getattr(one, "_initialized", None),
            dict(getattr(one, "_dirty", None) or {}),
            getattr(one, "__changes", None),
        )
        for key, one in found.items()
    }


def forget_parents(found, but):
    for one in found.values():
        if one is not but and "_parent" in getattr(one, "__dict__", {}):
            object.__delattr__(one, "_parent")


def both(builder, item, parent, frozen, configure_setattr_only=False):
    """Let Flet walk, then ours over the same objects, and hold both to one result."""
    given = (item, parent, frozen, configure_setattr_only)
    expected = list(quick_walk.FLETS_OWN(builder, *given))
    found = {}
    everything_in(item, found)
    wanted = states_of(found)
    if not configure_setattr_only:
        forget_parents(found, item)
    got = list(quick_walk.configured(builder, *given))
    assert [id(one) for one in got] == [id(one) for one in expected]
    assert states_of(found) == wanted
    COUNTED.append(len(got))
    return iter(got)


COUNTED = []


@pytest.fixture
def walked_twice(monkeypatch):
    """Every walk is walked twice; Flet's own calls itself within one."""
    depth = []

    def once(builder, *given, **named):
        if depth:
            return quick_walk.FLETS_OWN(builder, *given, **named)
        depth.append(True)
        try:
            return both(builder, *given, **named)
        finally:
            depth.clear()

    monkeypatch.setattr(quick_walk, "begin", lambda: None)
    name = "_configure_dataclass"
    monkeypatch.setattr(object_patch.DiffBuilder, name, once)
    COUNTED.clear()


@pytest.mark.slow
@pytest.mark.parametrize(
    "each", [8, pytest.param(1, marks=pytest.mark.exhaustive)], ids=["some", "all"]
)
def test_it_finds_on_the_screens_what_flets_own_walk_finds(walked_twice, each):
    with opened("--demo") as driver:
        known = ids(driver)
        # One place is reached only by what the place before it recorded.
        by_themselves = [place for place in FIELD if place.name != "exam-telephone"]
        for place in FIELD if each == 1 else by_themselves[::each]:
            show(driver, place, known)
    assert sum(COUNTED) > 500
    print(f"{len(COUNTED)} walks over {sum(COUNTED)} controls end as Flet's own")


def walked(item, walk):
    builder = object_patch.DiffBuilder(None, None, control_cls=BaseControl)
    return list(walk(builder, item, None, False))


def test_what_stands_in_dicts_and_lists_is_found_and_what_is_no_field_is_not():
    inner, row = ft.Text("deep"), ft.Row([ft.Text("one"), ft.Text("two")])
    outer = ft.Container(content=row, data=[ft.Text("no field")])
    outer._internals["made"] = [{"deep": inner}]
    for walk in (quick_walk.FLETS_OWN, quick_walk.configured):
        assert set(walked(outer, walk)) == {outer, inner, row, *row.controls}
        assert inner.parent is outer
        del inner._parent


def test_another_version_of_flet_keeps_its_own_walk(monkeypatch):
    own = quick_walk.FLETS_OWN
    monkeypatch.setattr(object_patch.DiffBuilder, "_configure_dataclass", own)
    monkeypatch.setattr(ft, "__version__", "1.0.6")
    quick_walk.begin()
    assert object_patch.DiffBuilder._configure_dataclass is own
    monkeypatch.setattr(ft, "__version__", quick_walk.FLET)
    quick_walk.begin()
    assert object_patch.DiffBuilder._configure_dataclass is quick_walk.configured
