"""Colours, sizes and shapes of every screen, in one place.

Dark on light by default, since that reads better outdoors; dark by choice. Every
pair of text and ground in ``LIGHT`` and ``DARK`` has a contrast of at least 7 to 1
(WCAG 2.2, success criterion 1.4.6). No meaning rests on red against green: notices
differ by sign and word as well. A control is at least 56 pixels high, 64 in the
exam. All sizes grow with the chosen text size.
"""

from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

import flet as ft

CONTROL_HEIGHT = 56
EXAM_CONTROL_HEIGHT = 64
# In the exam with dirty gloves.
GLOVED_CONTROL_HEIGHT = 80
# Height of one line of a button's label; the rest of a button is padding.
LABEL_LINE = 20
GAP = 12
CORNER = 10
BODY_WIDTH = 820
WIDE_FROM = 700


class TextSize(StrEnum):
    """How large text is drawn; the stored setting."""

    NORMAL = "normal"
    LARGE = "large"
    LARGEST = "largest"


class ColourMode(StrEnum):
    """Which colours are used; the stored setting."""

    LIGHT = "light"
    DARK = "dark"


TEXT_SCALE = MappingProxyType(
    {TextSize.NORMAL: 1.0, TextSize.LARGE: 1.2, TextSize.LARGEST: 1.45}
)


@dataclass(frozen=True, slots=True)
class Palette:
    """Colours as ``#RRGGBB``; each ``on_`` colour is the text on its ground."""

    ground: str
    on_ground: str
    quiet: str
    raised: str
    line: str
    main: str
    on_main: str
    chosen: str
    on_chosen: str
    urgent: str
    on_urgent: str
    notice: str
    on_notice: str

    def pairs(self) -> tuple[tuple[str, str], ...]:
        """Name every (text, ground) pair that screens may use."""
        return (
            (self.on_ground, self.ground),
            (self.on_ground, self.raised),
            (self.quiet, self.ground),
            (self.quiet, self.raised),
            (self.main, self.ground),
            (self.main, self.raised),
            (self.on_main, self.main),
            (self.on_chosen, self.chosen),
            (self.on_urgent, self.urgent),
            (self.urgent, self.ground),
            (self.on_notice, self.notice),
        )


LIGHT = Palette(
    ground="#FFFFFF",
    on_ground="#14181C",
    quiet="#414A52",
    raised="#F1F4F6",
    line="#6A747C",
    main="#0B4A66",
    on_main="#FFFFFF",
    chosen="#CFE6F0",
    on_chosen="#06293A",
    urgent="#8C1018",
    on_urgent="#FFFFFF",
    notice="#FFE9B0",
    on_notice="#352600",
)

DARK = Palette(
    ground="#101417",
    on_ground="#F2F5F7",
    quiet="#C3CCD3",
    raised="#1B2227",
    line="#8C98A1",
    main="#9BD3EA",
    on_main="#04202C",
    chosen="#1D475B",
    on_chosen="#F0F9FD",
    urgent="#FFB4AE",
    on_urgent="#3F0306",
    notice="#F5CF7A",
    on_notice="#2B1F00",
)


def build_theme(look: ColourMode, text_size: TextSize) -> ft.Theme:
    """Turn the two settings into one Flet theme."""
    palette = DARK if look is ColourMode.DARK else LIGHT
    scale = TEXT_SCALE[text_size]
    label = _style(17, scale, ft.FontWeight.W_600, None)
    return ft.Theme(
        color_scheme=_scheme(palette),
        scaffold_bgcolor=palette.ground,
        canvas_color=palette.ground,
        hint_color=palette.quiet,
        visual_density=ft.VisualDensity.STANDARD,
        text_theme=_text_theme(scale, palette.on_ground),
        filled_button_theme=ft.FilledButtonTheme(_button(label, scale)),
        outlined_button_theme=ft.OutlinedButtonTheme(
            _button(label, scale, ft.BorderSide(2, palette.line))
        ),
        text_button_theme=ft.TextButtonTheme(_button(label, scale)),
        icon_theme=ft.IconTheme(size=26 * scale, color=palette.on_ground),
        page_transitions=_no_transitions(),
    )


def _text_theme(scale: float, colour: str) -> ft.TextTheme:
    bold, plain = ft.FontWeight.W_700, ft.FontWeight.W_400
    return ft.TextTheme(
        headline_medium=_style(30, scale, bold, colour),
        headline_small=_style(25, scale, bold, colour),
        title_large=_style(21, scale, bold, colour),
        title_medium=_style(18, scale, bold, colour),
        title_small=_style(16, scale, bold, colour),
        body_large=_style(18, scale, plain, colour),
        body_medium=_style(17, scale, plain, colour),
        body_small=_style(15, scale, plain, colour),
        label_large=_style(17, scale, ft.FontWeight.W_600, colour),
        label_medium=_style(15, scale, plain, colour),
        label_small=_style(14, scale, plain, colour),
    )


def _style(
    size: int, scale: float, weight: ft.FontWeight, colour: str | None
) -> ft.TextStyle:
    return ft.TextStyle(
        size=round(size * scale, 1), weight=weight, color=colour, letter_spacing=0
    )


def _button(
    label: ft.TextStyle, scale: float, side: ft.BorderSide | None = None
) -> ft.ButtonStyle:
    # Padding instead of a fixed height: a label of two lines is never cut.
    return ft.ButtonStyle(
        text_style=label,
        padding=ft.Padding.symmetric(
            vertical=(CONTROL_HEIGHT - LABEL_LINE) // 2, horizontal=18
        ),
        shape=ft.RoundedRectangleBorder(radius=CORNER),
        icon_size=24 * scale,
        side=side,
        # A button that stays and changes does so at once.
        animation_duration=ft.Duration(),
    )


def _scheme(palette: Palette) -> ft.ColorScheme:
    return ft.ColorScheme(
        primary=palette.main,
        on_primary=palette.on_main,
        primary_container=palette.chosen,
        on_primary_container=palette.on_chosen,
        secondary=palette.main,
        on_secondary=palette.on_main,
        secondary_container=palette.chosen,
        on_secondary_container=palette.on_chosen,
        tertiary=palette.notice,
        on_tertiary=palette.on_notice,
        tertiary_container=palette.notice,
        on_tertiary_container=palette.on_notice,
        error=palette.urgent,
        on_error=palette.on_urgent,
        # A refused field under the mouse takes this for its frame and its label.
        error_container=palette.ground,
        on_error_container=palette.urgent,
        surface=palette.ground,
        on_surface=palette.on_ground,
        on_surface_variant=palette.quiet,
        outline=palette.line,
        outline_variant=palette.line,
        surface_container=palette.raised,
        surface_container_high=palette.raised,
        surface_container_highest=palette.raised,
        surface_container_low=palette.raised,
        surface_container_lowest=palette.ground,
        surface_tint=palette.ground,
    )


def _no_transitions() -> ft.PageTransitionsTheme:
    # A slide between screens costs a sixth of a second at every tap.
    none = ft.PageTransitionTheme.NONE
    return ft.PageTransitionsTheme(
        android=none, ios=none, linux=none, macos=none, windows=none
    )
