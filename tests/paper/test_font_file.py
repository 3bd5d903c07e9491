"""Where the font of sheets comes from: the app's own files, or a phone's browser."""

import sys
from types import SimpleNamespace

import pytest

from exam_app.paper import font_file
from exam_app.paper.fonts import FontDamagedError
from exam_app.resources import ResourceMissingError, fallback_font


class JsError(Exception):
    """What a browser's refusal is to Python."""


class Bytes(bytes):
    """An array of JavaScript."""

    def to_bytes(self):
        return bytes(self)


@pytest.fixture
def on_a_phone(monkeypatch):
    """Imitate a worker's fetch; the assets of a computer are not there."""
    asked, given = [], SimpleNamespace(ok=True, status=200, content=b"")

    async def array():
        return Bytes(given.content)

    async def fetch(path):
        asked.append(path)
        if given.status == 0:
            raise JsError("no network")
        return SimpleNamespace(ok=given.ok, status=given.status, arrayBuffer=array)

    def none():
        raise ResourceMissingError("assets")

    monkeypatch.setattr(font_file, "fallback_font", none)
    monkeypatch.setitem(sys.modules, "js", SimpleNamespace(fetch=fetch))
    ffi = SimpleNamespace(JsException=JsError)
    monkeypatch.setitem(sys.modules, "pyodide", SimpleNamespace(ffi=ffi))
    monkeypatch.setitem(sys.modules, "pyodide.ffi", ffi)
    return asked, given


async def test_on_a_phone_the_browser_gives_the_file_that_the_build_placed(on_a_phone):
    asked, given = on_a_phone
    given.content = fallback_font()
    assert (await font_file.sheet_font()).has("a")
    assert asked == ["/fonts/DejaVuSans.ttf"]


@pytest.mark.parametrize(
    ("ok", "status", "content"), [(False, 404, b""), (True, 0, b""), (True, 200, b"no")]
)
async def test_what_the_browser_refuses_or_gives_in_its_place_is_no_font(
    on_a_phone, ok, status, content
):
    _, given = on_a_phone
    given.ok, given.status, given.content = ok, status, content
    with pytest.raises(FontDamagedError):
        await font_file.sheet_font()
