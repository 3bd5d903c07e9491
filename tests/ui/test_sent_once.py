"""What was sent to the page and is still the same is not sent at every letter."""

import ast
from pathlib import Path

import flet as ft
import msgpack
import pytest
from flet.controls.object_patch import ObjectPatch
from flet.messaging.protocol import configure_encode_object_for_msgpack

import exam_app.ui
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import pick

KINDS = ("other", "main", "lead", "quiet", "urgent", "icon", "tile", "main tile")


def nothing(*_):
    return None


def pack(value):
    """Pack as for the page: that is when Flet notes what the next patch starts from."""
    return msgpack.packb(
        value, default=configure_encode_object_for_msgpack(ft.BaseControl)
    )


def patch_of(control):
    made, _, _ = ObjectPatch.from_diff(control, control, control_cls=ft.BaseControl)
    message = made.to_message()
    pack(message)
    return repr(message)


def beside_a_field(named):
    column = ft.Column([named, ft.Text("before")])
    ObjectPatch.from_diff(None, column, control_cls=ft.BaseControl)
    pack(column)
    return column


MAKERS = {
    **{kind: lambda kind=kind: button("a", "A", nothing, kind=kind) for kind in KINDS},
    "sized": lambda: button("a", "A", nothing, kind="main", size="exam"),
    "chosen": lambda: pick("a", "A", nothing, is_chosen=True),
}


@pytest.mark.parametrize("name", MAKERS)
def test_a_letter_typed_beside_a_button_sends_nothing_of_the_button(name):
    column = beside_a_field(MAKERS[name]())
    column.controls[1].value = "after"
    sent = patch_of(column)
    assert "after" in sent
    assert "style" not in sent.lower()


def test_a_style_that_is_another_is_still_sent():
    named = button("a", "A", nothing, kind="lead")
    column = beside_a_field(named)
    named.content.style = ft.ButtonStyle(bgcolor="#123456")
    assert "#123456" in patch_of(column)


@pytest.mark.slow
def test_every_filled_button_is_the_one_whose_style_is_sent_once():
    root = Path(exam_app.ui.__path__[0])
    makers = {"FilledButton", "IconButton", "Button", "FilledTonalButton"}
    made = {
        f"{path.relative_to(root).as_posix()}: {node.func.attr}"
        for path in root.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr in makers
        and getattr(node.func.value, "id", "") == "ft"
    }
    assert made == set()
