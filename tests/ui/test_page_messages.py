"""What one turn of the app says goes to the page in one message, whole and in order."""

import asyncio
import json
import shutil
import subprocess

import pytest

from exam_app.resources import assets_folder
from exam_app.ui.server.page_messages import TOGETHER, in_one, together

SOCKET = {"type": "websocket"}


def packets_of(message):
    """Take a message apart, as the page does."""
    if message[:1] != TOGETHER:
        return [message]
    found, rest = [], message[1:]
    while rest:
        end = 4 + int.from_bytes(rest[:4], "little")
        found.append(rest[4:end])
        rest = rest[end:]
    return found


async def sent_by(*turns):
    """Give what a page receives of an app that says this in its turns."""
    received = []

    async def app(_scope, _receive, send):
        await send({"type": "websocket.accept"})
        for turn in turns:
            for packet in turn:
                await send({"type": "websocket.send", "bytes": packet})
            for _ in range(3):
                await asyncio.sleep(0)
        await send({"type": "websocket.close"})

    async def send(message):
        await asyncio.sleep(0)
        received.append(message)

    await together(app)(SOCKET, None, send)
    return received


async def test_each_turn_is_one_message_and_no_packet_is_lost_or_changed():
    turns = [[b"\x00one"], [b"\x00two", b"\x01", b"\x00" * 70_000], [b"\x00end"]]
    received = await sent_by(*turns)
    kinds = [message["type"].removeprefix("websocket.") for message in received]
    assert kinds == ["accept", "send", "send", "send", "close"]
    assert [packets_of(one["bytes"]) for one in received[1:-1]] == turns


async def test_a_packet_alone_stays_as_it_is():
    assert in_one([b"\x00alone"]) == b"\x00alone"


async def test_what_comes_before_the_end_is_sent_before_it():
    received = []

    async def app(_scope, _receive, send):
        await send({"type": "websocket.send", "bytes": b"\x00last words"})
        await send({"type": "websocket.close"})

    async def send(message):
        received.append(message["type"])

    await together(app)(SOCKET, None, send)
    assert received == ["websocket.send", "websocket.close"]


async def test_a_send_that_fails_is_told_to_the_app():
    async def app(_scope, _receive, send):
        await send({"type": "websocket.send", "bytes": b"\x00"})

    async def send(_message):
        raise ConnectionResetError

    with pytest.raises(ConnectionResetError):
        await together(app)(SOCKET, None, send)


async def test_other_answers_pass_as_they_are():
    received = []

    async def app(_scope, _receive, send):
        await send({"type": "http.response.body", "body": b"x"})

    async def send(message):
        received.append(message)

    await together(app)({"type": "http"}, None, send)
    assert received == [{"type": "http.response.body", "body": b"x"}]


@pytest.mark.skipif(shutil.which("node") is None, reason="needs Node")
def test_the_page_takes_a_message_apart_into_its_packets():
    packets = [b"\x00one", b"\x01" * 300, b"\x00"]
    script = (assets_folder() / "tab.js").read_text("utf-8")
    begin = script.index("  function packetsOf(")
    function = script[begin : script.index("\n  }\n", begin) + 4]
    said = list(in_one(packets))
    run = f"""{function}
    const heard = packetsOf(new Uint8Array({said}).buffer);
    console.log(JSON.stringify(heard.map((one) => [...new Uint8Array(one)])));
    console.log(packetsOf(new Uint8Array([0, 5]).buffer));"""
    answer = subprocess.run(
        ["node", "-e", run], capture_output=True, text=True, check=True
    ).stdout.splitlines()
    assert json.loads(answer[0]) == [list(packet) for packet in packets]
    assert answer[1] == "null"
