"""How the page looks: the colours of the guidance screen's themes, as CSS variables."""

from __future__ import annotations

from assist.output.screen.palette import THEMES, Colour, Pair, Theme


def theme_rules() -> str:
    """One rule for each theme, chosen by the page's `data-theme`."""
    return "".join(_rule(theme) for theme in THEMES.values())


def _rule(theme: Theme) -> str:
    scheme = "light" if sum(theme.side.ground) > sum(theme.side.text) else "dark"
    colours = {"paper": theme.side.text, "ground": theme.side.ground, "faint": theme.faint.text}
    colours["zone"] = theme.zone
    pairs: dict[str, Pair] = {
        "move": theme.move,
        "away": theme.away,
        "still": theme.still,
        "doubt": theme.doubt,
        "idle": theme.idle,
    }
    for name, pair in pairs.items():
        colours |= {f"{name}-ink": pair.text, f"{name}-ground": pair.ground}
    lines = "".join(f" --{name}: {_css(colour)};" for name, colour in colours.items())
    return f'[data-theme="{theme.name}"] {{ color-scheme: {scheme};{lines} }}\n'


def _css(colour: Colour) -> str:
    blue, green, red = colour
    return f"#{red:02x}{green:02x}{blue:02x}"
