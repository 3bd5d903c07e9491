"""A page that is loaded anew while words are on their way to it gives its place up."""

import asyncio

import flet_web.fastapi
import msgpack
import pytest
from uvicorn.protocols.utils import ClientDisconnected

from exam_app.ui.server.page_messages import without_late_messages
from tests.browser.in_process import opened

REGISTER = b"\0" + msgpack.packb([1, {"session_id": None, "page_name": "", "page": {}}])


class ClosingPage:
    """The far end of a websocket: it registers, then goes while it is written to."""

    def __init__(self):
        self.incoming = asyncio.Queue()
        for message in (
            {"type": "websocket.connect"},
            {"type": "websocket.receive", "bytes": REGISTER},
        ):
            self.incoming.put_nowait(message)
        self.was_written_to = asyncio.Event()

    async def send(self, message):
        if message["type"] == "websocket.send":
            self.was_written_to.set()
            raise ClientDisconnected


SCOPE = {
    "type": "websocket",
    "path": "/ws",
    "root_path": "",
    "query_string": b"",
    "headers": [(b"host", b"127.0.0.1:8000")],
    "client": ("127.0.0.1", 50000),
    "server": ("127.0.0.1", 8000),
    "scheme": "ws",
    "subprotocols": [],
}


async def test_page_that_closes_while_it_is_written_to_is_known_to_be_gone():
    gone = asyncio.Event()

    async def main(page):
        page.on_disconnect = gone.set
        page.title = "written late"
        page.update()

    page = ClosingPage()
    app = without_late_messages(flet_web.fastapi.app(main, no_cdn=True))
    serving = asyncio.create_task(app({**SCOPE}, page.incoming.get, page.send))
    await asyncio.wait_for(page.was_written_to.wait(), 20)
    page.incoming.put_nowait({"type": "websocket.disconnect", "code": 1006})
    await asyncio.wait_for(serving, 20)
    await asyncio.wait_for(gone.wait(), 20)


async def test_an_answer_that_cannot_be_sent_is_no_answer():
    async def refuse(_message):
        raise ClientDisconnected

    async def answer(_scope, _receive, send):
        await send({"type": "http.response.start", "status": 200, "headers": []})

    app = without_late_messages(answer)
    with pytest.raises(OSError):  # noqa: PT011 its kind says it all
        await app({"type": "http"}, refuse, refuse)


def test_a_page_that_answers_for_what_was_just_replaced_goes_on(tmp_path):
    never_there = -1
    with opened(folder=tmp_path / "exams") as page:
        session = page._client.session
        session.handle_invoke_method_results(never_there, "call", None, None)
        page.wait("screen")
