"""The usual cautions, for a kind of machine, a material and a stack: a short form for G-code, a full one for the sheet.

The wording is our own. Its sources: OSHA 29 CFR 1910.213 (woodworking machinery), EPA's consumer sheet on
pressure-treated wood, ANSI Z136.1 and common laser laboratory rules, NIOSH and ACGIH limits for wood dust. None of it
replaces the machine's manual, local codes or licensed practice, and the last caution says so.

Also warnings about things on a board for whoever runs the file: air moves pass over knots and clamps alike.
"""

from __future__ import annotations

import re
from collections.abc import Sequence, Set
from dataclasses import dataclass
from typing import Literal, TypeAlias

from cutjob.counting import counted
from cutjob.job.hazards import Hazard
from cutjob.job.machine import Machine, MachineKind
from cutjob.job.model import BoardStock
from cutjob.job.stock import Board
from cutjob.layout.holding import Holding
from cutjob.layout.layout import BoardLayout, Layout
from cutjob.output.words.line import Length, Line
from cutjob.program.moves import Program
from cutjob.units import Unit, format_length

# Things that stick up out of a board and break a cutter.
_STANDS = re.compile(r"\b(clamp|screw|nail)", re.IGNORECASE)


def keep_out_line(board: Board, *, machine: Machine, air: float, clear: float) -> Line:
    """Return the line on a board's keep-outs in a file's opening. Air moves pass `air` mm above the stock, and no more
    than `clear` mm above it over keep-outs with a height.

    They clear every stated height, so the line warns only of keep-outs without one.
    """
    count = len(board.keep_outs)
    stated = [one.height for one in board.keep_outs if one.height > 0]
    places, them = (counted(count, "place"), "it" if count == 1 else "them")
    opening = f"{places} on the board, never cut."
    if machine.has_beam:
        over = f"{opening} Between cuts the head may pass over {them}: keep its way clear there."
        return Line("Keep-outs", (over,))
    above = (Length(air), " above the stock: clamps and screws ")
    if not stated:
        return Line("Keep-outs", (f"{opening} Air moves may pass over {them} ", *above, "there must be lower."))
    highest, most = Length(max(stated)), (Length(clear), " above the stock")
    if len(stated) == count:
        clears = f" high. Air moves clear {them}, at most "
        stands = f"{opening} By the job, clamps and screws there are up to "
        return Line("Keep-outs", (stands, highest, clears, *most, "."))
    these = "it" if len(stated) == 1 else "these"
    what = f"{opening} By the job, clamps and screws on {len(stated)} of them are up to "
    clears = f" high. Air moves clear {these}, at most "
    others = (", and pass over the others ", *above, "of no stated height must be lower.")
    return Line("Keep-outs", (what, highest, clears, *most, *others))


def keep_out_warnings(stock: Sequence[BoardStock], *, layout: Layout, machine: Machine, unit: Unit) -> tuple[str, ...]:
    """Return a warning for each kind of board used whose keep-outs are clamps, screws or nails by their `why`.

    Only machines that run G-code get warnings, and on a router only keep-outs without a stated height: air moves clear
    the others. `unit` is for the wording.
    """
    if not machine.runs_gcode:
        return ()
    used = {board.board.name for board in layout.boards if board.board.keep_outs}
    laser = machine.has_beam
    warnings = []
    for board in stock:
        reasons = dict.fromkeys(
            area.why for area in board.keep_out if area.why and _STANDS.search(area.why) and (laser or not area.height)
        )
        if board.name not in used or not reasons:
            continue
        if laser:
            advice = "the head passes over it between cuts, so it must not stand in the head's way"
        else:
            height = format_length(machine.motion.safe_height, unit=unit)
            above = f"{height} above the stock (safe_height)"
            advice = f"air moves pass over it {above}, so it must be lower; or state its height"
        warnings.append(f'board "{board.name}": keep-out ({", ".join(reasons)}): {advice}')
    return tuple(warnings)


# How a board's cutters are changed: not at all, by hand between its files, or by the machine within a file.
Changes: TypeAlias = Literal["none", "by hand", "changer"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One caution: `short` is for the opening comments of a G-code file, `full` for the job sheet.

    `of_wood` is set where the wood is dangerous, not the work.
    """

    topic: str
    short: str
    full: str
    of_wood: bool = False


_PERSON = Caution(
    topic="eyes, ears, dust",
    short="Wear eye and ear protection, draw off the dust. No gloves, loose sleeves or long hair near the cutter.",
    full="Wear eye and ear protection, and a dust mask where dust is not drawn off at the cutter. No gloves, loose "
    "sleeves, jewellery or untied hair near a turning cutter.",
)
_HELD = Caution(
    topic="holding the work",
    short="Hold the work down before the spindle starts. Keep clamps and screws clear of every move.",
    full="Hold the work down before the spindle starts. Keep clamps and screws clear of every move by more than the "
    "cutter's diameter. Keep hands away until the spindle has stopped: a part cut free may be thrown.",
)
_ON_TAPE = Caution(
    topic="holding the work",
    short="Tape holds only on clean, flat wood: brush it off, press the board down all over, and pull at it first.",
    full="Tape holds only on clean, flat, dry wood: brush off both faces, press the board down all over, and pull at "
    "its corners before the start. Keep hands away until the spindle has stopped: a part that comes off may be thrown.",
)
_ON_VACUUM = Caution(
    topic="holding the work",
    short="Vacuum on and its gauge steady before the spindle starts. Leave the pump on until the spindle has stopped.",
    full="Start the pump and wait until its gauge is steady before the spindle starts. Stop when the gauge falls: "
    "every cut through lets air in, and small parts hold least. Leave the pump on until the spindle has stopped.",
)
_AIR = Caution(
    topic="first run",
    short="Make the first run in the air above the stock, with a hand at the stop.",
    full="Run the file once in the air, with Z zero set well above the stock, and keep a hand at the stop. Watch that "
    "it stays on the board and clear of clamps.",
)
_ZERO = Caution(
    topic="zero and thickness",
    short="Set Z again after every cutter change. Measure the stock: it must be as thick as stated.",
    full="Set Z zero again after every change of cutter. Measure the stock where it will be cut: if it is thinner than "
    "stated, tabs will be thin or missing; if it is thicker, parts will not come free.",
)
_STACK = Caution(
    topic="stack",
    short="Pin every layer of the stack, in the parts and in the waste. Stack no higher than the cutter cuts.",
    full="Pin every layer of the stack together, inside the parts and in the waste, with pins clear of the cutter. The "
    "whole stack must be no higher than the cutting length.",
)
_STACK_PRESSED = Caution(
    topic="stack",
    short="Press all boards of the stack down together. Stack no higher than the cutter cuts.",
    full="Press all boards of the stack down together where they are held, flat on each other: bridges over the whole "
    "height hold the parts of every board until they are sawn through. The whole stack must be no higher than the "
    "cutting length.",
)
_STACK_TAPED = Caution(
    topic="stack",
    short="Tape between all boards of the stack, over their whole faces. Stack no higher than the cutter cuts.",
    full="Tape every board of the stack to the next over its whole face, inside the parts too: the tape alone holds "
    "the parts of all boards but the lowest. The whole stack must be no higher than the cutting length.",
)
_LENGTHS = Caution(
    topic="zero and thickness",
    short="The tool table must hold every cutter's right length. Measure the stock: it must be as thick as stated.",
    full="Measure every cutter's length into the controller's tool table before the start, again after a new one is "
    "fitted, and set Z zero. Measure the stock where it will be cut: if it is thinner than stated, tabs will be thin "
    "or missing; if it is thicker, parts will not come free.",
)
_HEIGHTS = Caution(
    topic="boards of several heights",
    short="The boards of this job are not equally high: set Z zero again on each.",
    full="The boards of this job, or their stacks, are not equally high. Set Z zero again whenever one of another "
    "height goes on the machine: with the old zero the cutter plunges too deep, or does not cut through.",
)
_CHANGE = Caution(
    topic="cutter changes",
    short="Change the cutter with the spindle at rest and its power off. The board stays where it is held.",
    full="Change the cutter with the spindle at rest and its power off, and take the wrenches away again. Leave the "
    "board held where it is: if it moves, the next cutter cuts beside the cuts of the one before.",
)
_CHANGER = Caution(
    topic="cutter changes",
    short="The machine changes cutters by itself: keep its way clear, and each cutter in the place with its number.",
    full="The machine moves to its cutters and changes them by itself: keep hands, hoses and clamps out of the way. "
    "Check before the start that each cutter is in the place with its number.",
)
_STANDING = Caution(
    topic="clamps",
    short="The spindle's nose and nut are wider than the cutter: watch that they pass beside clamps and screws.",
    full="Air moves clear all clamps and screws at the heights the job states, but beside a clamp the cutter comes "
    "down lower. The spindle's nose, its nut and the dust hood are wider than the cutter: watch in the first run that "
    "they pass. The machine hits anything higher than stated.",
)
_SCREWS = Caution(
    topic="screws in the waste",
    short="A cutter that meets a screw breaks and flies. Drive screws only into drilled holes, with heads as stated.",
    full="A cutter that meets a screw breaks, and pieces of it fly. Drive screws only into the holes the program "
    "drilled, down to the head, with heads no wider and no higher than stated. Stand clear of the board while it is "
    "cut, and take all screws out before it goes to a saw.",
)
_SLIDING = Caution(
    topic="long boards",
    short="Support both ends of a long board level with the bed. Slide it with the spindle at rest.",
    full="Support both ends of a long board level with the bed, so that they neither tip it up nor hang down. Slide it "
    "only with the spindle at rest, hold it down again, and check its zero point before the next file.",
)
_LASER = (
    Caution(
        topic="fire",
        short="Never leave the beam alone. Keep an extinguisher at hand and the extraction on.",
        full="Never leave a running laser alone, not for a moment. Keep an extinguisher at hand, run air assist and "
        "extraction, and look for glowing edges after the job.",
    ),
    Caution(
        topic="eyes",
        short="Keep the lid shut, or wear eyewear made for this beam's wavelength.",
        full="Keep the lid shut, or have everyone in the room wear eyewear made for this beam's wavelength. Ordinary "
        "safety glasses do not stop a beam.",
    ),
    Caution(
        topic="never in a laser",
        short="Never cut vinyl or other plastics with chlorine, nor treated wood.",
        full="Never put vinyl or any other plastic with chlorine in a laser: the smoke poisons people and eats the "
        "machine. Never treated or painted wood of unknown make.",
    ),
    Caution(
        topic="first run",
        short="Make the first run with the beam off, and watch that it stays on the board.",
        full="Trace the file once with the beam off and watch that it stays on the board. Measure the stock and focus "
        "on it again when the board changes.",
    ),
)
_GUARDS = Caution(
    topic="saw",
    short="Keep the guards on, use a push stick, and hold small pieces in a jig.",
    full="Keep guards on and use a push stick; hold small pieces in a jig or with a hand screw, never in the "
    "fingers. Stop the saw before clearing cut pieces.",
)
_SAW = (_PERSON, _GUARDS)
_STOP = Caution(
    topic="stop block",
    short="Let no piece be caught between the stop and the turning blade.",
    full="Let no piece be caught between the stop and the turning blade, which throws it: hold the work on one side of "
    "the blade only, and leave short pieces where they are until it stands still.",
)
_DRILL = Caution(
    topic="drilling",
    short="Clamp small pieces under the drill, never hold them in the hand.",
    full="Clamp small and round pieces in a cradle or vice under the drill, never hold them in the hand: a drill that "
    "catches spins them.",
)
_PAINT = Caution(
    topic="paint and oil",
    short="Spread oily rags out to dry: in a heap they can catch fire by themselves. Follow the tin's label.",
    full="Paint and oil with the windows open and as the tin's label says. Rags with oil can catch fire by themselves "
    "in a heap: spread them out to dry outdoors, or keep them under water in a closed tin.",
)
OVER_ALL = Caution(
    topic="what comes before this",
    short="The machine's manual, local codes and licensed practice come before this file.",
    full="The machine's manual, local codes and licensed practice come before anything said here. Whoever runs the "
    "machine decides whether a file is safe to run on it.",
)
_BY_HAZARD: dict[Hazard, Caution] = {
    "treated": Caution(
        topic="treated lumber",
        of_wood=True,
        short="Treated lumber: dust mask, wash hands, never burn it, never laser it, not for food or animals.",
        full="Treated lumber: wear a mask, wash before eating, sweep up all dust and bin it. Never burn it, never "
        "cut it with a laser, and use it for nothing that food or animals touch.",
    ),
    "cedar": Caution(
        topic="cedar dust",
        of_wood=True,
        short="Cedar dust can bring on asthma: draw it off and wear a mask.",
        full="Dust of western redcedar can bring on asthma and rashes, even after years without trouble: draw it "
        "off at the cutter and wear a mask.",
    ),
    "glued": Caution(
        topic="glued sheets",
        of_wood=True,
        short="Sheets with glue give fine dust and glue fumes: draw them off.",
        full="Sheets with glue in them give very fine dust, and fumes of the glue when they are burned: draw both "
        "off and wear a mask.",
    ),
}


def board_cautions(layout: BoardLayout, *, machine: Machine, programs: Sequence[Program]) -> tuple[Caution, ...]:
    """Return the cautions for a board that is cut by all these `programs` (none: drawn or cut by hand)."""
    own = [program for program in programs if program.board == layout.id]
    numbers = {cutter.number for program in own for cutter in program.cutters}
    changer = machine.controller.tool_change == "changer"
    changes: Changes = "none"
    if len(numbers) > 1:
        changes = "changer" if changer else "by hand"
    return cautions_for(
        kind=machine.kind,
        hazards=layout.board.hazards,
        stack=layout.stack,
        screws=bool(layout.hold_downs),
        windows=len(layout.windows) > 1,
        standing=layout.board.tallest > 0,
        changes=changes,
        lengths=machine.controller.tool_length,
        holding=layout.holding,
    )


def job_cautions(
    layout: Layout, *, machine: Machine, programs: Sequence[Program], sticks: bool, drilled: bool
) -> tuple[Caution, ...]:
    """Return the cautions for the boards of a job and for work by hand - sawing pieces off boards and `sticks`, holes
    `drilled` - each once, with the one on the manual last.
    """
    by_hand = [
        *([_PERSON, _GUARDS] if sticks or layout.sawn else []),
        *([_STOP] if sticks else []),
        *([_PERSON, _DRILL] if drilled else []),
        *([OVER_ALL] if sticks or layout.sawn or drilled else []),
    ]
    of_boards = (one for board in layout.boards for one in board_cautions(board, machine=machine, programs=programs))
    heights = {round(board.height, 3) for board in layout.boards}
    again = machine.has_spindle and machine.motion.z_zero == "stock top" and len(heights) > 1
    found = {caution.full: caution for caution in (*of_boards, *([_HEIGHTS] if again else []), *by_hand)}
    return tuple(sorted(found.values(), key=lambda caution: caution is OVER_ALL))


def hand_cautions(layout: Layout, *, sticks: bool, drilled: bool, painted: bool) -> tuple[Caution, ...]:
    """Return the cautions for whoever makes the parts by hand from patterns, the one on manuals last."""
    hazards = {hazard for board in layout.boards for hazard in board.board.hazards}
    found = [*cautions_for(kind="pattern", hazards=hazards, stack=1)]
    found += [*([_STOP] if sticks else []), *([_DRILL] if drilled else []), *([_PAINT] if painted else [])]
    return tuple(sorted(found, key=lambda caution: caution is OVER_ALL))


def cautions_for(
    *,
    kind: MachineKind,
    hazards: Set[Hazard],
    stack: int,
    screws: bool = False,
    windows: bool = False,
    standing: bool = False,
    changes: Changes = "none",
    lengths: Literal["none", "table"] = "none",
    holding: Holding | None = None,
) -> tuple[Caution, ...]:
    """Return the cautions for a kind of machine, the hazards of the wood, and boards cut at once.

    A router has more: for screws in the waste, boards slid from window to window, clamps `standing` on the board, the
    way cutters are changed, their `lengths` from a table, and the way the board is held, where that is settled.
    """
    of_material = [caution for hazard, caution in _BY_HAZARD.items() if hazard in hazards]
    of_stack = [_of_stack(holding)] if stack > 1 and kind != "laser" else []
    match kind:
        case "router":
            held = {"tape": _ON_TAPE, "vacuum": _ON_VACUUM}.get(holding.by if holding is not None else "", _HELD)
            general = [_PERSON, held, _AIR, _LENGTHS if lengths == "table" else _ZERO]
            general += [_CHANGE] * (changes == "by hand") + [_CHANGER] * (changes == "changer")
            general += [_STANDING] * standing + [_SCREWS] * screws + [_SLIDING] * windows
        case "laser":
            general = list(_LASER)
        case "pattern":
            general = list(_SAW)
    return (*general, *of_stack, *of_material, OVER_ALL)


def _of_stack(holding: Holding | None) -> Caution:
    if holding is None:
        return _STACK
    return _STACK_TAPED if holding.between_boards == "tape" else _STACK_PRESSED
