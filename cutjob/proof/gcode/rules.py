"""The rules that one file must keep whatever it cuts: language, heights, cutters, spindle or beam, feeds,
reach, depth.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Iterable
from dataclasses import replace

from cutjob.counting import counted
from cutjob.proof.finding import Finding
from cutjob.proof.gcode.beam_rules import (
    air_assist,
    beam_off_at_end,
    beam_off_on_rapids,
    beam_on_in_cuts,
    beam_placed,
    beam_power,
    beam_standing,
    beam_stated,
    no_height,
)
from cutjob.proof.gcode.feed_rules import arc_feeds, feeds, plunges, slow_feeds, steps_down, wall_feeds
from cutjob.proof.gcode.file_case import FileCase
from cutjob.proof.gcode.height_rules import (
    air_moves,
    deepest,
    feeds_in_the_air,
    first_moves,
    homes,
    placed,
    rapids,
    travel,
)
from cutjob.proof.gcode.language_rules import (
    broken_lines,
    modes_stated,
    program_end,
    safe_start,
    spare_codes,
    within_controller,
)
from cutjob.proof.gcode.tool_rules import (
    dial_halt,
    drill_bits,
    halts_for_lengths,
    raised_after_changes,
    spindle_on,
    spindle_speed,
    spindle_stop,
    stops,
    time_to_speed,
    tool_lengths,
    tools,
    waits,
)

_Rule = Callable[[FileCase], Iterable[Finding]]
_LANGUAGE: tuple[_Rule, ...] = (
    broken_lines, modes_stated, safe_start, program_end, within_controller, spare_codes,
)  # fmt: skip
_ROUTER: tuple[_Rule, ...] = (
    first_moves, placed, homes, rapids, feeds_in_the_air, air_moves, deepest, travel, spindle_on, time_to_speed,
    spindle_speed, spindle_stop, stops, dial_halt, tools, tool_lengths, halts_for_lengths, raised_after_changes,
    drill_bits, feeds, arc_feeds, wall_feeds, slow_feeds, plunges, steps_down, waits,
)  # fmt: skip
_LASER: tuple[_Rule, ...] = (
    no_height, travel, beam_stated, beam_on_in_cuts, beam_off_on_rapids, beam_off_at_end, beam_placed, beam_standing,
    beam_power, air_assist, feeds,
)  # fmt: skip
# Rules that need a file read to its end.
_OF_A_WHOLE_FILE = frozenset({program_end, tools, beam_off_at_end, beam_standing, air_assist})
_NUMBERS = re.compile(r"[0-9.]+")
_BETWEEN_MOTIONS = frozenset({"spindle stop", "stop", "beam", "tool", "tool length", "rapid"})
_MOST_OF_A_KIND = 10


def judge_rules(case: FileCase) -> list[Finding]:
    """Return findings of every rule: the first ten of each kind, and the number of the others.

    A file with a line that can't be read is judged up to that line.
    """
    motion_rules = _LASER if case.machine.has_beam else _ROUTER
    problems = case.reading.problems
    if not problems:
        found = [finding for rule in (*_LANGUAGE, *motion_rules) for finding in _of(rule, case)]
        return [_at_its_line(finding, case) for finding in found]
    first = min(problem.location.line or 1 for problem in problems if problem.location is not None)
    begin = replace(case, reading=case.reading.before(first))
    found = [finding for rule in (broken_lines, within_controller, spare_codes) for finding in _of(rule, case)]
    rules = [rule for rule in (modes_stated, *motion_rules) if rule not in _OF_A_WHOLE_FILE]
    found += [finding for rule in rules for finding in _of(rule, begin)]
    return [_at_its_line(finding, begin) for finding in found]


def _at_its_line(finding: Finding, case: FileCase) -> Finding:
    """A finding about something between motions, with the tool's place at that time."""
    if finding.check not in _BETWEEN_MOTIONS or finding.at is not None or finding.line is None:
        return finding
    motions = case.reading.motions
    index = bisect_right(motions, finding.line, key=lambda motion: motion.line) - 1
    if index < 0 or index in case.reading.unplaced:
        return finding
    motion = motions[index]
    z = motion.end[2] - case.stock_top if motion.z_known else None
    return replace(finding, at=case.on_board(motion.end[:2]), z=z)


def _of(rule: _Rule, case: FileCase) -> list[Finding]:
    by_check: dict[tuple[str, str], list[Finding]] = {}
    reported: set[tuple[str, int | None, str]] = set()
    for finding in rule(case):
        # A canned cycle, or an arc taken apart, is several motions on one line.
        key = (finding.check, finding.line, _NUMBERS.sub("", finding.message))
        if finding.line is None or key not in reported:
            reported.add(key)
            by_check.setdefault((finding.check, finding.severity), []).append(finding)
    found: list[Finding] = []
    for (check, _), several in by_check.items():
        found += several[:_MOST_OF_A_KIND]
        more = len(several) - _MOST_OF_A_KIND
        if more > 0:
            words = f"{counted(more, 'more place')} like these"
            found.append(case.error(check, words, severity=several[-1].severity))
    return found
