"""What the app sends to a page: one step of it together, and nothing to one that left.

A page draws between two messages. A tap changes a line, a card, the answers and a
count, each a message of its own: sent one by one they were drawn one by one, and each
drawing kept the rest waiting. What is said in one turn of the loop goes out as one
message, which ``assets/tab.js`` takes apart again before the web client hears it.
"""

import asyncio
import struct
from collections.abc import Sequence
from dataclasses import dataclass, field

from exam_app.ui.server.guard import Application, Message, Receive, Scope, Send

# Before each packet of its own, Flet writes 0 or 1.
TOGETHER = b"\x02"
_LENGTH = struct.Struct("<I")


def together(inner: Application) -> Application:
    """Send all packets of one turn of the loop in one message."""

    async def outer(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "websocket":
            await inner(scope, receive, send)
            return
        outgoing = _Outgoing(send)
        await inner(scope, receive, outgoing.take)
        await outgoing.end()

    return outer


@dataclass(slots=True)
class _Outgoing:
    """The packets of a websocket that are still to be sent."""

    send: Send
    _waiting: list[bytes] = field(default_factory=list)
    _sending: asyncio.Task[None] | None = None

    async def take(self, message: Message) -> None:
        """Let a packet wait for the others of this turn; send anything else behind."""
        packet = message.get("bytes")
        if packet is None:
            await self.end()
            await self.send(message)
            return
        self._waiting.append(packet)
        if self._sending is None or self._sending.done():
            await self.end()
            self._sending = asyncio.create_task(self._send_waiting())

    async def end(self) -> None:
        """Return once nothing waits; what went wrong while sending is raised."""
        if self._sending is not None:
            await self._sending

    async def _send_waiting(self) -> None:
        while self._waiting:
            packets = self._waiting[:]
            self._waiting.clear()
            await self.send({"type": "websocket.send", "bytes": in_one(packets)})


def in_one(packets: Sequence[bytes]) -> bytes:
    """Write packets into one message; one alone stays as it is.

    Returns:
        ``TOGETHER``, then of each packet its length in four bytes, the lowest first,
        and the packet.
    """
    if len(packets) == 1:
        return packets[0]
    parts = (part for one in packets for part in (_LENGTH.pack(len(one)), one))
    return TOGETHER + b"".join(parts)


def without_late_messages(inner: Application) -> Application:
    """Drop what is sent to a page that has just closed its connection.

    Flet ends a session's connection only where every message went out. A page that
    was loaded anew while one was on its way stayed the tab that holds the exams, and
    the new page was told that they are open in another tab.
    """

    async def outer(scope: Scope, receive: Receive, send: Send) -> None:
        async def sent(message: Message) -> None:
            try:
                await send(message)
            except OSError:
                # Gone: ``receive`` says so too, and that ends the connection.
                if scope["type"] != "websocket":
                    raise

        await inner(scope, receive, sent)

    return outer
