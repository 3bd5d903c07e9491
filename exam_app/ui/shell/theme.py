"""Colours, sizes and shapes of every screen, in one place.

Dark on light by default, since that reads better outdoors; dark by choice. Every
pair of text and ground in ``LIGHT`` and ``DARK`` has a contrast of at least 7 to 1
(WCAG 2.2, success criterion 1.4.6). No meaning rests on red against green: notices
differ by sign and word as well. A control is at least 56 pixels high, 64 on the
sheets of the exam. All sizes grow with the chosen text size.
"""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import TypeAlias

import flet as ft

CONTROL_HEIGHT = 56
EXAM_CONTROL_HEIGHT = 64
# In the exam with dirty gloves.
GLOVED_CONTROL_HEIGHT = 80
# Height of one line of a button's label; the rest of a button is padding.
LABEL_LINE = 20
_LABEL = 17
GAP = 12
CORNER = 10
BODY_WIDTH = 820
WIDE_FROM = 700
# A bar that comes and goes is drawn some forty times for each answer that scrolls.
SCROLLS = ft.ScrollMode.ALWAYS
# Around what takes the arrows itself, so that they move nothing else.
SCROLLS_NOTHING = ft.ScrollMode.HIDDEN
# Wider than any window.
_HOVERED = ft.Duration(milliseconds=600)
_WIDEST = 100_000


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
    {TextSize.NORMAL: 1.0, TextSize.LARGE: 1.4, TextSize.LARGEST: 2.0}
)
# Signs are no text: so large, they are seen, and leave the words their room.
LARGEST_SIGN = 1.4
LEAST_PADDING = 6


Palette: TypeAlias = Mapping[str, str]

# Light, then dark; each ``on_`` colour is the text on its ground.
_COLOURS = {
    "ground": ("#FFFFFF", "#101417"),
    "on_ground": ("#14181C", "#F2F5F7"),
    "quiet": ("#414A52", "#C3CCD3"),
    "raised": ("#F1F4F6", "#1B2227"),
    "line": ("#6A747C", "#8C98A1"),
    "main": ("#0B4A66", "#9BD3EA"),
    "on_main": ("#FFFFFF", "#04202C"),
    "chosen": ("#CFE6F0", "#1D475B"),
    "on_chosen": ("#06293A", "#F0F9FD"),
    "urgent": ("#8C1018", "#FFB4AE"),
    "on_urgent": ("#FFFFFF", "#3F0306"),
    "notice": ("#FFE9B0", "#F5CF7A"),
    "on_notice": ("#352600", "#2B1F00"),
}
LIGHT: Palette = {name: light for name, (light, _) in _COLOURS.items()}
DARK: Palette = {name: dark for name, (_, dark) in _COLOURS.items()}
# Every text and ground that screens may use.
PAIRS = (
    ("on_ground", "ground"),
    ("on_ground", "raised"),
    ("quiet", "ground"),
    ("quiet", "raised"),
    ("main", "ground"),
    ("main", "raised"),
    ("on_main", "main"),
    ("on_chosen", "chosen"),
    ("on_urgent", "urgent"),
    ("urgent", "ground"),
    ("on_notice", "notice"),
)


def build_theme(look: ColourMode, text_size: TextSize) -> ft.Theme:
    """Turn the two settings into one Flet theme."""
    palette = DARK if look is ColourMode.DARK else LIGHT
    scale = TEXT_SCALE[text_size]
    sign = min(scale, LARGEST_SIGN)
    label = _style(_LABEL, scale, ft.FontWeight.W_600, None)
    line = ft.BorderSide(2, palette["line"])
    # Material's own grey of what cannot be tapped now is not readable.
    filled = _button(label, scale, palette)
    filled.bgcolor = {ft.ControlState.DISABLED: palette["raised"]}
    return ft.Theme(
        color_scheme=_scheme(palette),
        scaffold_bgcolor=palette["ground"],
        canvas_color=palette["ground"],
        hint_color=palette["quiet"],
        visual_density=ft.VisualDensity.STANDARD,
        text_theme=_text_theme(scale, palette["on_ground"]),
        filled_button_theme=ft.FilledButtonTheme(filled),
        outlined_button_theme=ft.OutlinedButtonTheme(
            _button(label, scale, palette, line)
        ),
        text_button_theme=ft.TextButtonTheme(_button(label, scale, palette)),
        icon_button_theme=ft.IconButtonTheme(
            ft.ButtonStyle(color={ft.ControlState.DISABLED: palette["quiet"]})
        ),
        icon_theme=ft.IconTheme(size=26 * sign, color=palette["on_ground"]),
        page_transitions=_no_transitions(),
        # Not over what a mouse is about to click, nor drawn while that is answered.
        tooltip_theme=ft.TooltipTheme(wait_duration=_HOVERED),
        # Stays, so it may not cover the frame of what stands beside it.
        scrollbar_theme=ft.ScrollbarTheme(
            thickness={ft.ControlState.HOVERED: 10, ft.ControlState.DEFAULT: 4},
            radius=2,
            thumb_color=palette["line"],
            cross_axis_margin=0,
        ),
        # What lies over the screen shades all of it. Said here, since a sheet as high
        # as the window is asked for no size of its own.
        bottom_sheet_theme=ft.BottomSheetTheme(
            size_constraints=ft.BoxConstraints(min_width=_WIDEST, max_width=_WIDEST)
        ),
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
        label_large=_label(scale, colour),
        label_medium=_style(15, scale, plain, colour),
        label_small=_style(14, scale, plain, colour),
    )


def _style(
    size: int, scale: float, weight: ft.FontWeight, colour: str | None
) -> ft.TextStyle:
    return ft.TextStyle(
        size=round(size * scale, 1), weight=weight, color=colour, letter_spacing=0
    )


def _label(scale: float, colour: str) -> ft.TextStyle:
    """Write what a button without Flet's own says: in lines as high as theirs."""
    style = _style(_LABEL, scale, ft.FontWeight.W_600, colour)
    style.height = LABEL_LINE / _LABEL
    return style


def _button(
    label: ft.TextStyle,
    scale: float,
    palette: Palette,
    side: ft.BorderSide | None = None,
) -> ft.ButtonStyle:
    # Padding instead of a fixed height: a label of two lines is never cut.
    above = max(LEAST_PADDING, (CONTROL_HEIGHT - LABEL_LINE * scale) / 2)
    return ft.ButtonStyle(
        text_style=label,
        color={ft.ControlState.DISABLED: palette["quiet"]},
        padding=ft.Padding.symmetric(vertical=above, horizontal=18),
        shape=ft.RoundedRectangleBorder(radius=CORNER),
        icon_size=LABEL_LINE * min(scale, LARGEST_SIGN),
        side=side,
        # A button that stays and changes does so at once.
        animation_duration=ft.Duration(),
    )


# Flet's names by ours. A refused field under the mouse takes the error's container for
# its frame and its label.
_SCHEME = {
    "main": "primary secondary",
    "on_main": "on_primary on_secondary",
    "chosen": "primary_container secondary_container",
    "on_chosen": "on_primary_container on_secondary_container",
    "notice": "tertiary tertiary_container",
    "on_notice": "on_tertiary on_tertiary_container",
    "urgent": "error on_error_container",
    "on_urgent": "on_error",
    "ground": "error_container surface surface_container_lowest surface_tint",
    "on_ground": "on_surface",
    "quiet": "on_surface_variant",
    "line": "outline outline_variant",
    "raised": "surface_container surface_container_low surface_container_high"
    " surface_container_highest",
}


def _scheme(palette: Palette) -> ft.ColorScheme:
    named = {
        flet: palette[ours] for ours, all_ in _SCHEME.items() for flet in all_.split()
    }
    return ft.ColorScheme(**named)


def _no_transitions() -> ft.PageTransitionsTheme:
    # A slide between screens costs a sixth of a second at every tap.
    none = ft.PageTransitionTheme.NONE
    return ft.PageTransitionsTheme(
        android=none, ios=none, linux=none, macos=none, windows=none
    )
