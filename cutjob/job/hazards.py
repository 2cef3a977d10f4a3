"""Finds what in a board's wood can hurt someone: by the words of its material and name, or as the job says.

Sources: EPA's consumer sheet on treated wood (never burn it: the smoke and the ash are poisonous), university laser
rules after ANSI Z136.1 (vinyl, PVC: chlorine and acid fumes), HSE on wood dust (western redcedar; from
memory). Wording our own.
"""

from __future__ import annotations

import re
from collections.abc import Set
from typing import Literal, TypeAlias, get_args

Hazard: TypeAlias = Literal["treated", "cedar", "glued", "vinyl"]
HAZARDS: tuple[Hazard, ...] = get_args(Hazard)

# Wood changed by heat or steam holds no preservative; nor does wood named as untreated.
_NOT = r"(?:heat|thermal(?:ly)?|thermo|steam|not|non|un|never)"
_WORDS: dict[Hazard, re.Pattern[str]] = {
    "treated": re.compile(
        r"(?<![a-z])(?:(?:pressure[ -]?)?treated|creosot\w*|tanali[sz]ed|c\.?c\.?a\.?|acq|preservative)(?![a-z])",
        re.IGNORECASE,
    ),
    "cedar": re.compile(r"(?<![a-z])(?:red)?cedar(?![a-z])", re.IGNORECASE),
    "glued": re.compile(
        r"(?<![a-z])(?:mdf|hdf|plywood|ply|hardboard|chipboard|fib(?:re|er)board|particle ?board|osb)(?![a-z])",
        re.IGNORECASE,
    ),
    "vinyl": re.compile(r"(?<![a-z])(?:vinyl|pvc|polyvinyl)(?![a-z])", re.IGNORECASE),
}
_NOT_TREATED = re.compile(rf"(?<![a-z]){_NOT}[ -]*(?:pressure[ -]*)?treated(?![a-z])", re.IGNORECASE)


def hazards_of(material: str, name: str = "", *, treated: bool | None = None) -> frozenset[Hazard]:
    """Return the hazards of wood of a material and name. `treated` says whether it holds preservative; where it is
    False, preservative in the name is ignored, but not in the material.
    """
    named = _said(name) - {"treated"} if treated is False else _said(name)
    return _said(material) | named | ({"treated"} if treated else frozenset())


def laser_hazard(hazards: Set[Hazard]) -> str:
    """Return why wood with these hazards must never be cut by laser, or an empty text."""
    if "treated" in hazards:
        return "treated lumber gives off poisonous smoke and ash when it burns"
    if "vinyl" in hazards:
        return "vinyl gives off chlorine and acid fumes when it burns"
    return ""


def _said(text: str) -> frozenset[Hazard]:
    plain = _NOT_TREATED.sub(" ", text.replace("_", " "))
    return frozenset(hazard for hazard, words in _WORDS.items() if words.search(plain))
