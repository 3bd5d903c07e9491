"""How well what is on a page stands out from what lies under it.

Read from the controls as they were sent to the page and from the theme sent with
them; where neither names a colour, Material 3's own rule is used, as Flutter draws it.
Pictures and the body map are not judged here.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from tests.browser.fake_client import Control, Shown

TEXT_RATIO, SIGN_RATIO = 4.5, 3.0
# Text, frame and ground of each kind of button; none is what lies under it.
_BUTTONS = {
    "FilledButton": ("filled_button_theme", "on_primary", "primary"),
    "OutlinedButton": ("outlined_button_theme", "primary", None),
    "TextButton": ("text_button_theme", "primary", None),
    "IconButton": ("icon_button_theme", "on_surface_variant", None),
}
_DISABLED_TEXT, _DISABLED_GROUND = 0.38, 0.12
# They have no colour of their own, or one that says nothing.
_SILENT = {
    *("Page", "View", "SafeArea", "Stack", "Container", "Row", "Column", "Semantics"),
    *("BottomSheet", "ResponsiveRow", "GestureDetector", "Divider", "TextSpan"),
    *("Canvas", "KeyboardListener", "ListView", "TransparentPointer"),
    "InteractiveViewer",
}
Colour = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Seen:
    """One thing on the page.

    Attributes:
        what: Its words, or the name of its sign.
        colour, ground: As ``#rrggbb``, with what shines through mixed in.
        ratio: Of the two, by WCAG 2.2.
        needed: The least that is readable.
    """

    what: str
    colour: str
    ground: str
    ratio: float
    needed: float

    @property
    def is_readable(self) -> bool:
        """Whether it stands out enough."""
        return self.ratio >= self.needed


def ratio(one: str, other: str) -> float:
    """Give the contrast ratio of WCAG 2.2, from 1 to 21, of two ``#rrggbb``."""
    darker, lighter = sorted((_luminance(one), _luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: str) -> float:
    return sum(
        weight * (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4)
        for weight, part in zip((0.2126, 0.7152, 0.0722), _parsed(colour), strict=False)
    )


class Colours:
    """The colours of one page: what its theme and its controls name."""

    def __init__(self, page: Control) -> None:
        self._theme = page["theme"]
        self._scheme = {
            name.replace("_", ""): colour
            for name, colour in self._theme["color_scheme"].items()
        }

    def seen(self, shown: Shown) -> Iterator[Seen]:
        """Give every text, sign and frame of one control.

        Raises:
            AssertionError: Nothing is known here of a control of this kind.
        """
        kind = shown.control["_c"]
        if kind in _BUTTONS:
            yield from self._button(shown)
        elif kind in _SILENT:
            yield from self._box(shown)
        else:
            draw = {
                "Text": self._text,
                "Icon": self._icon,
                "Image": self._icon,
                "TextField": self._field,
                "ProgressBar": self._bar,
                **dict.fromkeys(
                    ("Line", "Points", "Rect", "Circle", "Path"), self._drawn
                ),
            }.get(kind)
            assert draw, f"nothing is known of the colours of {kind}"
            yield from draw(shown)

    def _icon(self, shown: Shown) -> Iterator[Seen]:
        control = shown.control
        named = control.get("color")
        if named or control["_c"] == "Icon":
            colour = named or self._foreground(shown.around)
            yield self._sign(str(control.get("icon")), colour, shown.around)

    def _bar(self, shown: Shown) -> Iterator[Seen]:
        control = shown.control
        ground = control.get("bgcolor") or "secondary_container"
        inside = [*shown.around, {"_c": "Container", "bgcolor": ground}]
        yield self._sign("progress", control.get("color") or "primary", inside)

    def _drawn(self, shown: Shown) -> Iterator[Seen]:
        """Give a line or a mark of a drawing; a shade has edges that are lines."""
        colour = str((shown.control.get("paint") or {}).get("color"))
        if "," not in colour and colour != "surface":
            yield self._sign(shown.control["_c"], colour, shown.around)

    def _box(self, shown: Shown) -> Iterator[Seen]:
        border = shown.control.get("border")
        side = (border or {}).get("top", {})
        if side.get("width", 1) and border:
            yield self._frame(side.get("color", "#000000"), shown)

    def _text(self, shown: Shown) -> Iterator[Seen]:
        control = shown.control
        style = control.get("style") or {}
        named = control.get("color") or style.get("color")
        if not named and (role := control.get("theme_style")):
            named = self._theme["text_theme"][_snake(str(role))].get("color")
        spans = "".join(one.get("text", "") for one in control.get("spans", []))
        around = shown.around
        if named == "surface":
            # A number on the disc of a mark, which has the colour of a drawing's lines.
            around = [*around, {"_c": "Container", "bgcolor": "on_surface"}]
        yield self._words(
            f"{control.get('value', '')}{spans}",
            named or self._foreground(around),
            around,
        )

    def _button(self, shown: Shown) -> Iterator[Seen]:
        control, kind = shown.control, shown.control["_c"]
        inside = [*shown.around, control]
        if isinstance(said := control.get("content"), str) and said:
            yield self._words(said, self._foreground(inside), inside)
        if (icon := control.get("icon")) is not None:
            named = self._of_style(control, "icon_color")
            yield self._sign(str(icon), named or self._foreground(inside), inside)
        frame = self._of_style(control, "side")
        if kind == "OutlinedButton" and frame:
            yield self._frame(frame["color"], shown)

    def _field(self, shown: Shown) -> Iterator[Seen]:
        control, around = shown.control, shown.around
        quiet = self._scheme["onsurfacevariant"]
        label = self._scheme["error"] if control.get("error") else quiet
        yield self._words(control.get("label", ""), label, around)
        yield self._words(control.get("value", ""), "on_surface", around)
        yield self._words(control.get("helper") or "", quiet, around)
        if problem := control.get("error"):
            yield self._words(str(problem), "error", around)
        for name in ("border_color", "focused_border_color"):
            yield self._sign(name, control[name], around)

    def _frame(self, colour: str, shown: Shown) -> Seen:
        """A frame is seen that stands out from one of its two sides."""
        inside = self._sign("frame", colour, [*shown.around, shown.control])
        outside = self._sign("frame", colour, shown.around)
        return max(inside, outside, key=lambda seen: seen.ratio)

    def _words(self, words: str, colour: str, around: Any) -> Seen:
        grounds = self._grounds(around)
        seen = self._mixed(colour, grounds, _opacity(around))
        return _measured(words, seen, self._mixed(None, grounds), TEXT_RATIO)

    def _sign(self, what: str, colour: str, around: Any) -> Seen:
        grounds = self._grounds(around)
        seen = self._mixed(colour, grounds, _opacity(around))
        return _measured(what, seen, self._mixed(None, grounds), SIGN_RATIO)

    def _foreground(self, around: Any) -> str:
        """Give the colour of words that name none: of the button, else of the page."""
        for control in reversed(around):
            if control["_c"] not in _BUTTONS:
                continue
            if named := self._of_style(control, "color"):
                return named
            if control.get("disabled"):
                return _with_alpha(self._scheme["onsurface"], _DISABLED_TEXT)
            return _BUTTONS[control["_c"]][1]
        return self._theme["text_theme"]["body_medium"]["color"]

    def _grounds(self, around: Any) -> list[str]:
        """Give the colours under something, from the page's own upwards."""
        grounds = [self._theme["scaffold_bgcolor"]]
        for control in around:
            kind = control["_c"]
            if kind in _BUTTONS:
                ground = self._of_style(control, "bgcolor")
                if not ground and control.get("disabled") and kind == "FilledButton":
                    ground = _with_alpha(self._scheme["onsurface"], _DISABLED_GROUND)
                ground = ground or _BUTTONS[kind][2]
            else:
                ground = control.get("bgcolor")
            if ground:
                grounds.append(ground)
        return grounds

    def _of_style(self, button: Control, name: str) -> Any:
        """Ask a button's own style, then the theme's of its kind."""
        theme = self._theme.get(_BUTTONS[button["_c"]][0]) or {}
        own = button.get("_internals", {}).get("style") or button.get("style")
        for style in (own, theme.get("style")):
            value = (style or {}).get(name)
            if isinstance(value, dict) and name != "side":
                state = "disabled" if button.get("disabled") else "default"
                value = value.get(state)
            if value:
                return value
        return None

    def _mixed(
        self, colour: str | None, grounds: list[str], opacity: float = 1.0
    ) -> str:
        mixed: Colour = (1, 1, 1, 1)
        for one in [*grounds, *([colour] if colour else [])]:
            red, green, blue, alpha = _parsed(self._named(one))
            if one is colour:
                alpha *= opacity
            new = (red, green, blue)
            old = mixed[:3]
            mixed = (
                *(n * alpha + o * (1 - alpha) for n, o in zip(new, old, strict=True)),
                1,
            )
        return "#" + "".join(f"{round(part * 255):02X}" for part in mixed[:3])

    def _named(self, colour: str) -> str:
        if colour.startswith("#"):
            return colour
        return self._scheme[colour.replace("_", "").lower()]


def _measured(what: str, colour: str, ground: str, needed: float) -> Seen:
    return Seen(what, colour, ground, ratio(colour, ground), needed)


def _opacity(around: Any) -> float:
    shining = 1.0
    for control in around:
        shining *= control.get("opacity", 1)
    return shining


def _with_alpha(colour: str, alpha: float) -> str:
    return f"#{round(alpha * 255):02X}{colour[1:]}"


def _parsed(colour: str) -> Colour:
    digits = colour.removeprefix("#")
    alpha = int(digits[:2], 16) / 255 if len(digits) == 8 else 1.0
    red, green, blue = bytes.fromhex(digits[-6:])
    return red / 255, green / 255, blue / 255, alpha


def _snake(camel: str) -> str:
    return "".join(f"_{c.lower()}" if c.isupper() else c for c in camel)
