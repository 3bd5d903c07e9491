"""A web client without a browser: it keeps the page as the messages describe it.

What is found here is what was sent. A control that was changed and never updated
looks as it did before, as it would to a person.
"""

import asyncio
from collections.abc import Awaitable, Callable
from concurrent.futures import Executor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import flet as ft
import msgpack
from flet.controls.base_control import BaseControl
from flet.controls.context import _context_page, context
from flet.controls.object_patch import Operation
from flet.messaging.connection import Connection
from flet.messaging.protocol import (
    Message,
    MessageAction,
    RegisterClientResponseBody,
    configure_encode_object_for_msgpack,
    decode_ext_from_msgpack,
)
from flet.messaging.session import Session
from flet.pubsub.pubsub_hub import PubSubHub

Control = dict[str, Any]
# What a device does without anything to be seen of it on the page.
_UNSEEN = {"vibrate", "enable", "disable", "set", "scroll_to"}
_DISCONNECTED_SECONDS = 3600
# The browser still asks the person.
NO_ANSWER = object()


@dataclass(frozen=True, slots=True)
class Shown:
    """A control that is on the page now.

    Attributes:
        control: Its properties, as sent; those with the usual value are left out.
        around: The controls around it, from the page inwards.
    """

    control: Control
    around: tuple[Control, ...]

    @property
    def is_enabled(self) -> bool:
        """Whether neither it nor anything around it is disabled or takes no taps."""
        return not any(
            one.get("disabled") or one.get("ignore_interactions")
            for one in (*self.around, self.control)
        )


class FakeClient(Connection):
    """One open page.

    Attributes:
        session: The app's side of it.
        page: The page's properties, as sent.
        changed: Set by every message.
        focused: The id of the text field with the cursor.
        to_choose: The files that the next window for choosing files gives.
        saved: Name and content of every file offered to be saved.
        camera: What a camera answers, by what is asked of it: a result, a refusal, or
            ``NO_ANSWER``.
    """

    def __init__(self, loop: asyncio.AbstractEventLoop, executor: Executor) -> None:
        super().__init__()
        self.loop, self.executor = loop, executor
        self.pubsubhub = PubSubHub(loop=loop, executor=executor)
        self.page_url = "http://in-process"
        self.session = Session(self)
        self.page: Control = {}
        self.changed = asyncio.Event()
        self.focused: int | None = None
        self.to_choose: list[Path] = []
        self.saved: list[tuple[str, bytes]] = []
        self.camera: dict[str, Any] = {}
        self._controls: dict[int, Control] = {}
        self._shown: list[Shown] = []
        # What lies over the screen now, from below.
        self._over: list[Control] = []
        self._tasks: set[asyncio.Task[None]] = set()

    def open(
        self, main: Callable[[ft.Page], Awaitable[None]], size: dict[str, int]
    ) -> None:
        """Register as a web client of this size does, and let the app begin."""
        _context_page.set(self.session.page)
        self.session.apply_page_patch({"web": True, "route": "/", **size})
        page = self.session.get_page_patch()
        answer = RegisterClientResponseBody(self.session.id, page, "")
        self.send_message(Message(MessageAction.REGISTER_CLIENT, answer))
        self._start(self._begin(main))

    async def leave(self) -> None:
        """Lose the connection, as a page does that is closed or opened anew."""
        await self.session.disconnect(_DISCONNECTED_SECONDS)

    def send_message(self, message: Message) -> None:
        """Take in what the app sends."""
        self._shown = []
        # Packed in any case: that is when Flet notes what the next patch starts from.
        packed = msgpack.packb(
            [message.action, message.body],
            default=configure_encode_object_for_msgpack(BaseControl),
        )
        action, body = msgpack.unpackb(
            packed, ext_hook=decode_ext_from_msgpack, strict_map_key=False
        )
        match MessageAction(action):
            case MessageAction.REGISTER_CLIENT:
                self.page = body["page_patch"]
                self._note(self.page)
            case MessageAction.PATCH_CONTROL:
                self._patch(body["id"], body["patch"])
            case MessageAction.INVOKE_METHOD:
                self.loop.call_soon(self._answer, body)
            case other:
                raise AssertionError(f"the app sent {other}: {body}")
        self._lay_over()
        self.changed.set()

    def event(self, control: Control, name: str, data: Any = None) -> None:
        """Tell the app of something done, if it listens for it."""
        if control.get(f"on_{name}"):
            self._start(self.session.dispatch_event(control["_i"], name, data))

    def set(self, control: Control, **properties: Any) -> None:
        """Change properties as a person does, and tell the app."""
        self._shown = []
        control.update(properties)
        self.session.apply_patch(control["_i"], properties)

    def go(self, route: str) -> None:
        """Go to another address of the app, without a reload."""
        self.set(self.page, route=route)
        self.event(self.page, "route_change", {"route": route})

    def focus(self, control: Control | None) -> None:
        """Put the cursor into a text field, or into none."""
        before = self._controls.get(self.focused or 0)
        if before is control:
            return
        self.focused = control and control["_i"]
        if before is not None:
            self.event(before, "blur", before.get("value", ""))
        if control is not None:
            self.event(control, "focus", control.get("value", ""))

    def shown(self) -> list[Shown]:
        """Give what a person can reach: all that is visible in the topmost layer.

        What stands in a control follows it at once.
        """
        if not self._shown:
            top = (self._over or self.page["views"])[-1]
            _add_visible(self._shown, top, (self.page,))
        return self._shown

    async def _begin(self, main: Callable[[ft.Page], Awaitable[None]]) -> None:
        _context_page.set(self.session.page)
        context.reset_auto_update()
        await main(self.session.page)
        await self.session.after_event(self.session.page)

    def _start(self, work: Any) -> None:
        task = self.loop.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    def _dialogs(self) -> list[Control]:
        """Give what can be laid over the screen, open or not."""
        around = (self.page.get(name, {}) for name in ("_overlay", "_dialogs"))
        held = [one for each in around for one in each.get("controls", [])]
        return [one for one in held if one["_c"] == "BottomSheet"]

    def _lay_over(self) -> None:
        """Lay over the screen what was opened, and tell of what was closed."""
        for dialog in self._dialogs():
            is_over = any(one is dialog for one in self._over)
            if dialog.get("open") and not is_over:
                self._over.append(dialog)
            elif is_over and not dialog.get("open"):
                self._over = [one for one in self._over if one is not dialog]
                self.event(dialog, "dismiss")

    def _note(self, value: Any) -> None:
        if isinstance(value, dict):
            if "_i" in value:
                self._controls[value["_i"]] = value
            value = list(value.values())
        if isinstance(value, list):
            for inner in value:
                self._note(inner)

    def _patch(self, control_id: int, patch: list[Any]) -> None:
        ways: dict[int, tuple[Any, ...]] = {}
        _find_ways(patch[0], (), ways)

        def at(place: int) -> Any:
            # Each step is meant as things stand after the step before; what was
            # empty was not sent.
            value = self._controls[control_id]
            for key in ways[place]:
                if isinstance(value, dict):
                    value.setdefault(key, [])
                value = value[key]
            return value

        for operation, place, key, *rest in patch[1:]:
            match Operation(operation):
                case Operation.Remove:
                    del at(place)[key]
                case Operation.Move:
                    moved = at(place).pop(key)
                    at(rest[0]).insert(rest[1], moved)
                case change:
                    _put(at(place), key, rest[0], is_added=change is Operation.Add)
                    self._note(rest[0])

    def _answer(self, asked: dict[str, Any]) -> None:
        control, name = self._controls[asked["control_id"]], asked["name"]
        if control["_c"] != "Camera":
            result, error = self._done(control, name, asked.get("args") or {})
        else:
            result, error = self.camera.get(name, RuntimeError("cameraNotFound")), None
            if result is NO_ANSWER:
                return
            if isinstance(result, Exception):
                result, error = None, str(result)
        self.session.handle_invoke_method_results(
            asked["control_id"], asked["call_id"], result, error
        )

    def _done(
        self, control: Control, name: str, arguments: dict[str, Any]
    ) -> tuple[Any, str | None]:
        """Do what a control is asked for; give the result, or why it was refused."""
        match name:
            case "push_route":
                self.go(arguments["route"])
            case "focus":
                if control["_c"] in ("TextField", "KeyboardListener"):
                    self.focus(control)
            case "save_file":
                self.saved.append((arguments["file_name"], arguments["src_bytes"]))
            case "pick_files":
                return [_as_chosen(path) for path in self.to_choose], None
            case _ if name not in _UNSEEN:
                return None, f"there is no browser here to {name}"
        return None, None


def _put(target: Any, key: Any, value: Any, *, is_added: bool) -> None:
    if is_added and isinstance(target, list):
        target.insert(key, value)
    else:
        target[key] = value


def _find_ways(
    tree: list[Any], way: tuple[Any, ...], ways: dict[int, tuple[Any, ...]]
) -> None:
    """Read the numbers that a patch gives to the ways from its control inwards."""
    ways[tree[0]] = way
    for key, below in (tree[1] if len(tree) > 1 else {}).items():
        _find_ways(below, (*way, key), ways)


def _add_visible(
    found: list[Shown], control: Control, around: tuple[Control, ...]
) -> None:
    # What cannot be seen through and through says nothing to a screen reader either.
    if control.get("visible") is False or control.get("opacity") == 0:
        return
    found.append(Shown(control, around))
    around = (*around, control)
    for value in control.values():
        for inner in value if isinstance(value, list) else (value,):
            if isinstance(inner, dict) and "_c" in inner:
                _add_visible(found, inner, around)


def _as_chosen(path: Path) -> dict[str, Any]:
    content = path.read_bytes()
    return {"id": 1, "name": path.name, "size": len(content), "bytes": content}
