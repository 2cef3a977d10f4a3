"""The modal groups of G and M codes (NISTIR 6556, table 4), and which codes of a line may stand together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutjob.proof.expressions import INTEGER
from cutjob.proof.words import Word, WordError

G_GROUPS: dict[str, tuple[str, ...]] = {
    "motion": ("0", "1", "2", "3", "38.2", "80", "81", "82", "83", "84", "85", "86", "87", "88", "89"),
    "plane": ("17", "18", "19"),
    "distance": ("90", "91"),
    "feed mode": ("93", "94"),
    "units": ("20", "21"),
    "cutter radius": ("40", "41", "42"),
    "tool length": ("43", "49"),
    "return": ("98", "99"),
    "coordinates": ("54", "55", "56", "57", "58", "59", "59.1", "59.2", "59.3"),
    "path": ("61", "61.1", "64"),
    "non-modal": ("4", "10", "28", "30", "53", "92", "92.1", "92.2", "92.3"),
}
M_GROUPS: dict[str, tuple[str, ...]] = {
    "stop": ("0", "1", "2", "30", "60"),
    "change": ("6",),
    "spindle": ("3", "4", "5"),
    "coolant": ("7", "8", "9"),
    "overrides": ("48", "49"),
}
MOST_M_WORDS = 4
_OF_G = {code: group for group, codes in G_GROUPS.items() for code in codes}
_OF_M = {code: group for group, codes in M_GROUPS.items() for code in codes}
REFUSED: dict[str, str] = {
    "G38.2": "where a probe stops is not in the file",
    "G84": "tapping needs a spindle that turns with the feed",
    "G87": "boring from below needs a tool that no profile knows",
    "G88": "the tool is taken out by hand",
    "G41": "cutter compensation moves the path by a number that is not in the file; write the centre's path",
    "G42": "cutter compensation moves the path by a number that is not in the file; write the centre's path",
    "G10": "it changes the controller's stored zero points",
    "G53": "where the machine's own zero lies is not in the file",
    **{f"G{code}": "it moves the program's zero away from the stated one" for code in ("92", "92.1", "92.2", "92.3")},
    "M60": "there is no pallet to change",
}


@dataclass(frozen=True, slots=True)
class Codes:
    """The codes of a line by group, without leading zeros, and every other word by its letter."""

    g: dict[str, Word]
    m: dict[str, Word]
    words: dict[str, Word]

    def code(self, group: str) -> str | None:
        """The G code of a group on this line, like "17", or None."""
        word = self.g.get(group)
        return None if word is None else code_of(word)

    def m_code(self, group: str) -> str | None:
        """The M code of a group on this line, or None."""
        word = self.m.get(group)
        return None if word is None else code_of(word)

    @property
    def column(self) -> int:
        """Where the first of the words stands."""
        words = (*self.g.values(), *self.m.values(), *self.words.values())
        return min((word.column for word in words), default=1)


def code_of(word: Word) -> str:
    """Return a code as the tables write it: G01 is 1, G59.10 is 59.1."""
    tenths = round(word.value * 10)
    # A value that was worked out is a code when it is nearly one.
    value = tenths / 10 if abs(word.value - tenths / 10) <= INTEGER else word.value
    return f"{value:.6f}".rstrip("0").rstrip(".")


def sort_codes(words: Sequence[Word]) -> Codes:
    """Return the words of a line by group and letter. Raises WordError for two of a kind and for unknown codes."""
    codes = Codes({}, {}, {})
    m_words = 0
    for word in words:
        if word.letter in "GM":
            name = word.letter + code_of(word)
            group = (_OF_G if word.letter == "G" else _OF_M).get(code_of(word))
            if group is None:
                raise WordError(word.column, f"{name} is not a code of the standard")
            if name in REFUSED:
                raise WordError(word.column, f"{name} is not judged: {REFUSED[name]}")
            into = codes.g if word.letter == "G" else codes.m
            # M7 and M8 may be on together, so the report lets both stand in one program, but not on one line.
            if group in into:
                other = word.letter + code_of(into[group])
                raise WordError(word.column, f"{other} and {name} on one line are of one kind ({group})")
            into[group] = word
            m_words += word.letter == "M"
            if m_words > MOST_M_WORDS:
                raise WordError(word.column, f"more than {MOST_M_WORDS} M words on a line")
        elif word.letter in codes.words:
            raise WordError(word.column, f"{word.letter} stands twice on the line")
        else:
            codes.words[word.letter] = word
    return codes
