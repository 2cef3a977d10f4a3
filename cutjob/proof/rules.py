"""What one file must keep to whatever it cuts: the language, heights, cutters, spindle or beam, feeds, reach, depth."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from cutjob.proof.beam_rules import beam_off_on_rapids, beam_on_in_cuts, beam_power, beam_standing, no_height
from cutjob.proof.feed_rules import feeds, plunges
from cutjob.proof.finding import Finding
from cutjob.proof.height_rules import air_moves, deepest, first_moves, rapids, travel
from cutjob.proof.language_rules import broken_lines, modes_stated, program_end, within_controller
from cutjob.proof.spindle_rules import spindle_on, spindle_speed, spindle_stop, stops, time_to_speed
from cutjob.proof.standing import Standing
from cutjob.proof.tool_rules import drill_bits, raised_after_changes, tool_lengths, tools

_Rule = Callable[[Standing], Iterable[Finding]]
_LANGUAGE: tuple[_Rule, ...] = (broken_lines, modes_stated, program_end, within_controller)
_ROUTER: tuple[_Rule, ...] = (
    first_moves, rapids, air_moves, deepest, travel, spindle_on, time_to_speed, spindle_speed, spindle_stop, stops,
    tools, tool_lengths, raised_after_changes, drill_bits, feeds, plunges,
)  # fmt: skip
_LASER: tuple[_Rule, ...] = (
    no_height, travel, beam_on_in_cuts, beam_off_on_rapids, beam_standing, beam_power, feeds,
)  # fmt: skip
_MOST_OF_A_KIND = 10


def judge_rules(standing: Standing) -> list[Finding]:
    """Return findings of every rule; of each kind the first ten and how many more there are."""
    rules = _LANGUAGE + (_LASER if standing.machine.kind == "laser" else _ROUTER)
    found: list[Finding] = []
    for rule in rules:
        by_check: dict[str, list[Finding]] = {}
        for finding in rule(standing):
            by_check.setdefault(finding.check, []).append(finding)
        for check, several in by_check.items():
            found += several[:_MOST_OF_A_KIND]
            more = len(several) - _MOST_OF_A_KIND
            if more > 0:
                severity = several[-1].severity
                found.append(standing.error(check, f"{more} more places like these", severity=severity))
    return found
