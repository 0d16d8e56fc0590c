"""Contrast of what is drawn, in every theme, by the formula of the World Wide Web Consortium.

W3C, Web Content Accessibility Guidelines 2.1 (2018), https://www.w3.org/TR/WCAG21/: relative luminance L = 0.2126 R + 0.7152 G + 0.0722 B,
where R, G, B are the sRGB shares, s / 12.92 up to 0.04045 and else ((s + 0.055) / 1.055) ** 2.4; contrast ratio (L1 + 0.05) / (L2 + 0.05), the
lighter above the darker. Success criteria 1.4.3: text at least 4.5, large text 3; 1.4.11: signs that are needed to understand, 3 against what
lies beside them.
"""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from rich._palettes import STANDARD_PALETTE, WINDOWS_PALETTE
from rich.color import Color, ColorSystem, ColorType
from rich.style import Style
from tui.conftest import put_ferry

from companion.tui.themes import DARK, LIGHT, TERMINAL, THEMES, theme_for

TEXT, LARGE = 4.5, 3.0
# What sixteen colours look like: the old text mode and the newer Windows console, as the library rich has them; xterm's own (XTerm-col.ad, from
# memory). Index: the colour's number.
_XTERM = (
    "000000 cd0000 00cd00 cdcd00 0000ee cd00cd 00cdcd e5e5e5 7f7f7f ff0000 00ff00 ffff00 5c5cff ff00ff 00ffff ffffff"
)
PALETTES: Mapping[str, list[tuple[int, int, int]]] = {
    "text mode": [tuple(STANDARD_PALETTE[number]) for number in range(16)],
    "console": [tuple(WINDOWS_PALETTE[number]) for number in range(16)],
    "xterm": [tuple(bytes.fromhex(word)) for word in _XTERM.split()],
}


def luminance(rgb: tuple[int, int, int]) -> float:
    shares = [value / 255 for value in rgb]
    linear = [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
    return sum(weight * value for weight, value in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one: tuple[int, int, int], other: tuple[int, int, int]) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def seen(
    colour: Color | None, palette: list[tuple[int, int, int]], default: tuple[int, int, int]
) -> tuple[int, int, int]:
    """What a colour looks like in a terminal with that palette, whose own ground or letters are `default`."""
    if colour is None or colour.type == ColorType.DEFAULT:
        return default
    return tuple(colour.triplet) if colour.triplet else palette[colour.number]


def test_the_formula_gives_what_is_published():
    """White on black 21; #767676 is the lightest grey that has 4.5 on white (W3C, technique G18 and the usual checkers)."""
    white, black = (255, 255, 255), (0, 0, 0)
    assert contrast(white, black) == pytest.approx(21) and contrast(white, white) == 1
    assert contrast((0x76,) * 3, white) >= 4.5 > contrast((0x77,) * 3, white)


@pytest.fixture(scope="session")
def looks() -> dict[str, dict[str, Style]]:
    """Of every theme, by its name, the style of every role as the app paints it."""
    return {}


ROLES = (
    "plain", "strong", "dim", "notice", "now", "cursor", "beat", "now-big", "next-big", "hidden-big", "right", "slip",
    "between", "white", "white-next", "octave", "black", "black-next", "lit", "lit-fill", "astray",
)  # fmt: skip


@pytest.fixture
async def styles(looks, started):
    if not looks:
        app, _ = started
        async with app.run_test(size=(80, 24)) as pilot:
            await put_ferry(pilot)
            for theme in THEMES:
                app.theme = theme.name
                await pilot.pause()
                looks[theme.name] = {role: app.get_component_styles(f"drawing--{role}").rich_style for role in ROLES}
    return looks


def grounds(theme):
    """(palette, the terminal's own ground, its own letters) that a theme is to be read on."""
    if theme is not TERMINAL:
        return [(PALETTES["xterm"], (0, 0, 0), (255, 255, 255))]
    return [
        (palette, palette[ground], palette[letters])
        for palette in PALETTES.values()
        for ground, letters in ((0, 7), (15, 0))
    ]


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
async def test_a_key_that_is_due_stands_out_from_white_and_black_keys_alike(styles, theme):
    look = styles[theme.name]
    for palette, ground, letters in grounds(theme):
        lit = seen(look["lit-fill"].bgcolor, palette, ground)
        white, black = seen(look["white"].bgcolor, palette, ground), seen(look["black"].color, palette, letters)
        assert contrast(lit, white) >= 3 and contrast(lit, black) >= 3, (contrast(lit, white), contrast(lit, black))
        assert contrast(seen(look["astray"].bgcolor, palette, ground), white) >= 3
        for role, behind in (("white-next", white), ("black-next", black)):
            assert contrast(seen(look[role].color, palette, letters), behind) >= TEXT
        for role in ("lit", "octave", "astray"):
            name = seen(look[role].color, palette, letters), seen(look[role].bgcolor, palette, ground)
            assert contrast(*name) >= TEXT, (role, contrast(*name))


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
async def test_letters_stand_out_from_their_ground(styles, theme):
    look = styles[theme.name]
    large = {"beat", "now-big", "next-big", "hidden-big"}
    for palette, ground, letters in grounds(theme):
        for role in set(ROLES[:13]):
            ratio = contrast(seen(look[role].color, palette, letters), seen(look[role].bgcolor, palette, ground))
            wanted = LARGE if role in large or theme is TERMINAL else TEXT
            assert ratio >= wanted, (role, ratio)


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
async def test_no_colour_says_two_things(styles, theme):
    """Now is one colour, on its letters, in the chart and at the beat, and of its hue on the keys; what slipped, and a key astray, have others;
    what is next has none of its own."""
    look = styles[theme.name]
    now = look["now-big"].color
    assert look["beat"].color == look["now"].bgcolor == look["cursor"].color == now
    for role in ("next-big", "plain", "right", "slip", "notice"):
        assert look[role].color != now, role
    assert look["next-big"].color == look["plain"].color
    assert look["astray"].bgcolor != look["lit"].bgcolor
    if theme in (DARK, LIGHT):
        hues = [Color.parse(name).triplet for name in (theme.primary, theme.variables["key-lit"])]
        assert all(red > green > blue for red, green, blue in hues)


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
async def test_a_fill_is_a_pattern_only_where_there_are_no_colours(styles, theme):
    fill = styles[theme.name]["lit-fill"]
    assert fill.color == fill.bgcolor


def test_a_terminal_of_sixteen_colours_gets_its_own():
    """What ours would become there, by the nearest of sixteen, would not do: the fill of a key too near to white in some."""
    near = [Color.parse(DARK.variables[name]).downgrade(ColorSystem.STANDARD) for name in ("key-lit", "key-white")]
    lit, white = (seen(colour, PALETTES["xterm"], (0, 0, 0)) for colour in near)
    assert contrast(lit, white) < 3
    assert theme_for("evening", "standard") == TERMINAL.name
    assert [theme_for("morning", system) for system in ("256", "truecolor")] == ["morning"] * 2


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda theme: theme.name)
def test_256_colours_are_enough(theme):
    near = {
        name: tuple(Color.parse(theme.variables[name]).downgrade(ColorSystem.EIGHT_BIT).get_truecolor())
        for name in ("key-lit", "key-white", "key-black")
    }
    assert contrast(near["key-lit"], near["key-white"]) >= 3 and contrast(near["key-lit"], near["key-black"]) >= 3
