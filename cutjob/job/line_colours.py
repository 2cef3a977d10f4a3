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
_RGB = re.compile(r"rgb\(\s*(\d{1,3})\s*[, ]\s*(\d{1,3})\s*[, ]\s*(\d{1,3})\s*\)")


def colour_of(text: str) -> str:
    """Return a colour as `#rrggbb`; a word that is not known stays as it is, in small letters; "" for none."""
    word = text.strip().lower()
    if word in ("none", "transparent", ""):
        return ""
    if _HEX.fullmatch(word):
        return word if len(word) == 7 else "#" + "".join(2 * digit for digit in word[1:])
    found = _RGB.fullmatch(word)
    if found is not None:
        return "#" + "".join(f"{min(int(share), 255):02x}" for share in found.groups())
    return _NAMED.get(word, word)
