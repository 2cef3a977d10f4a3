"""The usual cautions, for a kind of machine, a material and a stack: a short form for G-code, a full one for the sheet.

The wording is our own. What it rests on: OSHA 29 CFR 1910.213 (woodworking machinery), EPA's consumer sheet on
pressure-treated wood, ANSI Z136.1 and common laser laboratory rules, NIOSH and ACGIH limits for wood dust. None of it
replaces the machine's manual, local codes or licensed practice, and the last caution says so.
"""

from __future__ import annotations

from dataclasses import dataclass

from cutjob.job.machine import MachineKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One caution: `short` fits the opening comments of a G-code file, `full` stands on the job sheet."""

    topic: str
    short: str
    full: str


_PERSON = Caution(
    topic="eyes, ears, dust",
    short="Eye and ear protection on, dust drawn off. No gloves, loose sleeves or long hair near the cutter.",
    full="Wear eye and ear protection, and a dust mask where dust is not drawn off at the cutter. No gloves, loose "
    "sleeves, jewellery or untied hair near a turning cutter.",
)
_HELD = Caution(
    topic="holding the work",
    short="Work held down before the spindle starts, clamps and screws clear of every move.",
    full="Hold the work down before the spindle starts. Clamps and screws stand clear of every move by more than the "
    "cutter's diameter. Keep hands away until the spindle has stopped: a part cut free may be thrown.",
)
_AIR = Caution(
    topic="first run",
    short="First run in the air above the stock, a hand at the stop.",
    full="Run the file once in the air, with Z zero set well above the stock, and keep a hand at the stop. Watch that "
    "it stays on the board and clear of clamps.",
)
_ZERO = Caution(
    topic="zero and thickness",
    short="Set Z again after every cutter change. Measure the stock, it must be as thick as stated.",
    full="Set Z zero again after every change of cutter. Measure the stock where it will be cut: if it is thinner than "
    "stated, tabs will be thin or missing; if it is thicker, parts will not come free.",
)
_STACK = Caution(
    topic="stack",
    short="Pin every layer of the stack, in the parts and in the waste. Stack no higher than the cutter cuts.",
    full="Pin every layer of the stack together, inside the parts and in the waste, with pins clear of the cutter. The "
    "whole stack must be no higher than the cutting length.",
)
_SCREWS = Caution(
    topic="screws in the waste",
    short="Drive the screws where they were drilled and nowhere else: a cutter that meets a screw breaks and flies.",
    full="Drive the screws only into the holes the program drilled, with heads no larger than stated: a cutter that meets "
    "a screw breaks, and pieces of it fly. Take them all out before the board goes to a saw.",
)
_SLIDING = Caution(
    topic="long boards",
    short="Stop the spindle before the board is slid. Support both ends, hold it down again, check the zero.",
    full="Slide the board only with the spindle stopped. Support both ends level with the bed, hold the board down again, "
    "and check its zero before the next window is cut.",
)
_LASER = (
    Caution(
        topic="fire",
        short="Never leave the beam alone. Extinguisher at hand, extraction on.",
        full="Never leave a running laser alone, not for a moment. Keep an extinguisher at hand, run air assist and "
        "extraction, and look for glowing edges after the job.",
    ),
    Caution(
        topic="eyes",
        short="Lid shut, or eyewear made for this beam's wavelength.",
        full="Keep the lid shut, or have everyone in the room wear eyewear made for this beam's wavelength. Ordinary "
        "safety glasses do not stop a beam.",
    ),
    Caution(
        topic="never in a laser",
        short="Never vinyl or other plastics with chlorine, never treated wood.",
        full="Never put vinyl or any other plastic with chlorine in a laser: the smoke poisons people and eats the "
        "machine. Never treated or painted wood of unknown make.",
    ),
    Caution(
        topic="first run",
        short="First run with the beam off, watch that it stays on the board.",
        full="Trace the file once with the beam off and watch that it stays on the board. Measure the stock and focus "
        "on it again when the board changes.",
    ),
)
_SAW = (
    _PERSON,
    Caution(
        topic="saw",
        short="Guards on, push stick used, small pieces held by a jig.",
        full="Keep guards on and use a push stick; hold small pieces in a jig or with a hand screw, never in the "
        "fingers. Stop the saw before clearing cut pieces.",
    ),
)
_LAST = Caution(
    topic="what stands above this",
    short="The machine's manual, local codes and licensed practice stand above this file.",
    full="The machine's manual, local codes and licensed practice stand above anything said here. Whoever runs the "
    "machine decides whether a file is safe to run on it.",
)
_BY_MATERIAL: tuple[tuple[tuple[str, ...], Caution], ...] = (
    (
        ("treated",),
        Caution(
            topic="treated lumber",
            short="Treated lumber: dust mask, wash hands, never burn it, never laser it, not for food or animals.",
            full="Treated lumber: wear a mask, wash before eating, sweep up all dust and bin it. Never burn it, never "
            "cut it with a laser, and use it for nothing that food or animals touch.",
        ),
    ),
    (
        ("cedar",),
        Caution(
            topic="cedar dust",
            short="Cedar dust can bring on asthma: draw it off and wear a mask.",
            full="Dust of western redcedar can bring on asthma and rashes, even after years without trouble: draw it "
            "off at the cutter and wear a mask.",
        ),
    ),
    (
        ("mdf", "plywood", "ply", "hardboard", "chipboard", "fibreboard"),
        Caution(
            topic="glued sheets",
            short="Sheets with glue: fine dust and glue fumes, draw them off.",
            full="Sheets with glue in them give very fine dust, and fumes of the glue when they are burned: draw both "
            "off and wear a mask.",
        ),
    ),
)


def cautions_for(
    *, kind: MachineKind, material: str, stack: int, screws: bool = False, windows: bool = False
) -> tuple[Caution, ...]:
    """Return the cautions for a kind of machine, the stock's material (as the job names it), boards cut at once, screws
    in the waste, and boards slid from window to window.
    """
    words = material.casefold().replace("-", " ").split()
    of_material = [caution for names, caution in _BY_MATERIAL if any(word in names for word in words)]
    of_stack = [_STACK] if stack > 1 and kind != "laser" else []
    match kind:
        case "router":
            general = [_PERSON, _HELD, _AIR, _ZERO]
            general += [_SCREWS] * screws + [_SLIDING] * windows
        case "laser":
            general = list(_LASER)
        case "pattern":
            general = list(_SAW)
    return (*general, *of_stack, *of_material, _LAST)
