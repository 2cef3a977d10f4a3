"""Judges the comments of a G-code file: bytes and the plan go in, findings come out where the two disagree.

A text broken over lines goes on after two points and a blank. Small and large letters are alike.

Whoever runs the machine acts on the comments: which cutter, which speed, where zero is, how the board is held. Comments
that no plan knows - the job's title, notes, warnings - may say anything.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from cutjob.job.hazards import Hazard
from cutjob.job.machine import Machine
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding, Severity
from cutjob.proof.gcode.instructions import KINDS, Instruction, agrees, instructions
from cutjob.proof.gcode.reading import Reading

# Some controllers act on other characters at once, wherever they are.
_ALLOWED = re.compile(r"""[A-Za-z0-9 .,:'"/=+\-]*""")
_COMMENT = re.compile(r"\(([^()]*)\)?|;(.*)")
_GOES_ON = ".. "
_ONLY_COMMENT = re.compile(r"\s*(?:\([^()]*\)\s*)*(?:;.*)?%?\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Comment:
    """A text, in small letters and with single blanks, the line it begins on, and whether it is in the opening, before
    anything else.
    """

    text: str
    line: int
    opening: bool


def comments_of(data: bytes) -> tuple[Comment, ...]:
    """Return the texts of a file's comments in order, those broken over lines as one."""
    found: list[Comment] = []
    opening, last = True, 0
    for number, line in enumerate(_lines(data), start=1):
        opening = opening and _ONLY_COMMENT.fullmatch(line) is not None
        if "(" not in line and ";" not in line:
            last += not line.strip() and last == number - 1  # a blank line doesn't break a text off
            continue
        for match in _COMMENT.finditer(line):
            text = match.group(1) if match.group(1) is not None else match.group(2)
            text = text.strip()
            if text.startswith(_GOES_ON) and found and last == number - 1:
                before = found.pop()
                found.append(
                    Comment(text=before.text + " " + _plain(text[3:]), line=before.line, opening=before.opening)
                )
            else:
                found.append(Comment(text=_plain(text), line=number, opening=opening))
        last = number
    return tuple(found)


def odd_characters(data: bytes) -> Iterator[tuple[int, str]]:
    """Yield the line of each comment with a forbidden character, and that character."""
    for number, line in enumerate(_lines(data), start=1):
        if "(" not in line and ";" not in line:
            continue
        for match in _COMMENT.finditer(line):
            text = (match.group(1) if match.group(1) is not None else match.group(2)).rstrip("\r")
            good = _ALLOWED.match(text)
            if good is not None and good.end() < len(text):
                yield number, text[good.end()]
                break


def _lines(data: bytes) -> list[str]:
    return data.decode("latin-1").split("\n")


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


_MOST_FINDINGS = 10
_LONGEST = 70
# Each group needs a caution with one of its words; common practice, no source.
_ROUTER = (("eye",), ("spindle starts", "press the board", "gauge"), ("in the air",), ("measure the stock",))
_LASER = (("never leave",), ("eyewear",), ("vinyl",), ("first run",))
_OF_HAZARDS: dict[Hazard, tuple[str, ...]] = {"treated": ("treated lumber",), "cedar": ("cedar",), "glued": ("glue",)}


def judge_comments(
    data: bytes,
    reading: Reading,
    program: ExpectedProgram,
    programs: Sequence[ExpectedProgram],
    machine: Machine,
    *,
    required: bool,
) -> list[Finding]:
    """Return findings about a file's comments; `programs` are all files of its board, in the order to run them.

    A comment that contradicts the plan is an error. Where `required`, so is anything missing from the opening. A
    controller without comments has none to compare.
    """
    found = list(odd_comments(data, reading.name, "error"))
    if machine.controller.comments == "none":
        return found
    texts = comments_of(data)
    wanted = list(instructions(program, programs, reading, machine))
    for kind, pattern in KINDS.items():
        own = [one for one in texts if pattern.match(one.text)]
        planned = [one for one in wanted if one.kind == kind]
        for comment in own:
            if not any(agrees(comment.text, one) for one in planned):
                found.append(_finding(reading.name, f"{_shown(comment)} contradicts the plan", comment.line))
        contradicted = any(not any(agrees(one.text, each) for each in planned) for one in own)
        if required and not contradicted and _lacking(planned, [one for one in own if one.opening]):
            found.append(_finding(reading.name, f"the opening says nothing or too little of: {kind}"))
    if required:
        cautions = [one.text for one in texts if one.opening and one.text.startswith("caution")]
        lacking = _lacking_cautions(cautions, _to_be_said(program, programs, machine))
        found += [_finding(reading.name, message) for message in lacking]
    return found


def _lacking(planned: Sequence[Instruction], opening: Sequence[Comment]) -> bool:
    """Whether a needed instruction is missing."""
    return any(one.needed and not any(agrees(each.text, one) for each in opening) for one in planned)


def odd_comments(data: bytes, name: str, severity: Severity) -> Iterator[Finding]:
    """Findings for comments with characters that some controllers act on."""
    for number, (line, letter) in enumerate(odd_characters(data)):
        if number == _MOST_FINDINGS:
            return
        message = f"a comment holds {letter!r}: some controllers act on it even in a comment"
        yield _finding(name, message, line, severity)


def _lacking_cautions(texts: Sequence[str], wanted: Iterable[tuple[str, ...]]) -> Iterator[str]:
    if not texts:
        yield "the opening lacks its cautions"
        return
    for words in wanted:
        if not any(word in text for text in texts for word in words):
            yield f'the opening lacks the caution about "{words[0]}"'


def _to_be_said(
    program: ExpectedProgram, programs: Sequence[ExpectedProgram], machine: Machine
) -> Iterator[tuple[str, ...]]:
    """The groups of words that a board's cautions must cover."""
    layout = program.board
    yield from _LASER if machine.has_beam else _ROUTER
    yield ("manual",)
    for hazard in sorted(layout.board.hazards & _OF_HAZARDS.keys()):
        yield _OF_HAZARDS[hazard]
    if machine.has_beam:
        return
    if layout.stack > 1:
        yield ("stack",)
    if layout.hold_downs:
        yield ("meets a screw",)
    if len(layout.windows) > 1:
        yield ("long board",)
    if layout.board.tallest > 0:
        yield ("nose",)
    if len({cutter.number for one in programs for cutter in one.cutters}) > 1:
        yield ("changes cutters",) if machine.controller.tool_change == "changer" else ("change the cutter",)


def _shown(comment: Comment) -> str:
    text = comment.text if len(comment.text) <= _LONGEST else comment.text[: _LONGEST - 3] + "..."
    return f'"{text}"'


def _finding(name: str, message: str, line: int | None = None, severity: Severity = "error") -> Finding:
    return Finding(check="comment", severity=severity, message=message, file=name, line=line)
