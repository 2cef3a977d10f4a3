"""Materials that can hurt someone, known by the words in their names.

Sources: EPA's consumer sheet on treated wood (never burn it: the smoke and the ash are poisonous) and university laser
rules after ANSI Z136.1 (vinyl, PVC: chlorine and acid fumes). Wording our own.
"""

from __future__ import annotations

import re

_TREATED = re.compile(r"(?<!heat[ -])\b(pressure[ -]?treated|treated|creosoted?|cca)\b", re.IGNORECASE)
_VINYL = re.compile(r"\b(vinyl|pvc|polyvinyl)\b", re.IGNORECASE)


def is_treated(material: str) -> bool:
    """Tell whether a material's name says that it is lumber treated with preservative."""
    return _TREATED.search(material) is not None


def laser_hazard(material: str) -> str:
    """Return why a material must never be cut by laser, or an empty text."""
    if is_treated(material):
        return "treated lumber gives off poisonous smoke and ash when it burns"
    if _VINYL.search(material):
        return "vinyl gives off chlorine and acid fumes when it burns"
    return ""
