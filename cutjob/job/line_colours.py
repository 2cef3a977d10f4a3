"""Colours of lines in a drawing, in one spelling: `#rrggbb`, so that they can be compared with those a job names."""

from __future__ import annotations

import re

# The basic colour keywords (CSS Color 4, 6.1, the sixteen of HTML 4.01), and a few more of that list in common use.
_NAMED = {
    "aqua": "#00ffff",
    "black": "#000000",
    "blue": "#0000ff",
    "brown": "#a52a2a",
    "cyan": "#00ffff",
    "fuchsia": "#ff00ff",
    "gray": "#808080",
    "green": "#008000",
    "grey": "#808080",
    "lime": "#00ff00",
    "magenta": "#ff00ff",
    "maroon": "#800000",
    "navy": "#000080",
    "olive": "#808000",
    "orange": "#ffa500",
    "pink": "#ffc0cb",
    "purple": "#800080",
    "red": "#ff0000",
    "silver": "#c0c0c0",
    "teal": "#008080",
    "white": "#ffffff",
    "yellow": "#ffff00",
}
_HEX = re.compile(r"#(?:[0-9a-f]{3}|[0-9a-f]{6})")
# CSS Color 4, 5.1: numbers to 255 or percentages, with commas or spaces between.
_SHARE = r"(\d{0,9}\.?\d{1,9}%?)"
_BETWEEN = r"(?:\s*,\s*|\s+)"
_RGB = re.compile(rf"rgb\(\s*{_SHARE}{_BETWEEN}{_SHARE}{_BETWEEN}{_SHARE}\s*\)")


def colour_of(text: str) -> str:
    """Return a colour as `#rrggbb`; a word that is not known stays as it is, in small letters; "" for none."""
    word = text.strip().lower()
    if word in ("none", "transparent", ""):
        return ""
    if _HEX.fullmatch(word):
        return word if len(word) == 7 else "#" + "".join(2 * digit for digit in word[1:])
    found = _RGB.fullmatch(word)
    if found is not None:
        return "#" + "".join(f"{_share(text):02x}" for text in found.groups())
    return _NAMED.get(word, word)


def _share(text: str) -> int:
    """A share of 255, to the nearest whole number, halves up (CSS Color 4 on serializing sRGB values)."""
    value = float(text[:-1]) * 255 / 100 if text.endswith("%") else float(text)
    return min(int(value + 0.5), 255)
