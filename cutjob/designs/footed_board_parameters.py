"""What can be changed of a footed board, and its sizes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from cutjob.designs.parameter import Parameter

# Height of feet where none is given, mm: 1 1/4 in. Common practice, no source.
USUAL_FOOT = 31.75

FOOTED_BOARD_PARAMETERS = (
    Parameter(name="length", kind="length", help="of the board, along the grain", least=60.0, greatest=3000.0),
    Parameter(name="width", kind="length", help="of the board, and length of the feet", least=30.0, greatest=1500.0),
    Parameter(
        name="end_cut_length",
        kind="length",
        help="of a piece that board and feet are cut out of on the machine, as large as they can be, instead of length "
        "and width",
        least=60.0,
        greatest=3000.0,
    ),
    Parameter(name="end_cut_width", kind="length", help="of that piece", least=30.0, greatest=1500.0),
    Parameter(
        name="kerf",
        kind="length",
        help="what is lost between board and feet; default, and never less: the job's gap",
        least=0.5,
        greatest=25.4,
    ),
    Parameter(
        name="end_cut_margin",
        kind="length",
        help="what is lost at each edge of the end cut; default, and never less: the job's edge_margin",
        least=0.0,
        greatest=100.0,
    ),
    Parameter(
        name="height",
        kind="length",
        help="over all: board + foot - dado; leave out one of the three, it is worked out",
        least=10.0,
        greatest=600.0,
    ),
    Parameter(name="foot", kind="length", help="height of a foot with what lies in the dado", least=5.0, greatest=500),
    Parameter(name="dado", kind="length", help="depth of the dados", least=1.0, greatest=60.0),
    Parameter(
        name="play",
        kind="length",
        help="what a dado is wider than the board is thick",
        least=0.0,
        greatest=3.0,
        default=0.2,
    ),
    Parameter(name="feet_in", kind="length", help="from each end to the foot", least=5.0, greatest=1000.0),
    Parameter(
        name="feet",
        kind="choice",
        help="cut: on the machine with the board; sawn: ripped out of a blank off the board's end at the saw",
        choices=("cut", "sawn"),
        default="cut",
    ),
    Parameter(name="screws", kind="count", help="screws in each foot; 0: glued only", least=0, greatest=20, default=2),
    Parameter(name="screw", kind="length", help="hole for a screw's shank", least=2.0, greatest=15.0, default="1/4 in"),
    Parameter(
        name="counterbore",
        kind="length",
        help="diameter of the wide upper end of a screw hole",
        least=4.0,
        greatest=40.0,
        default="1/2 in",
    ),
    Parameter(
        name="counterbore_depth",
        kind="length",
        help="how deep a screw's head is sunk",
        least=1.0,
        greatest=50.0,
        default="3/16 in",
    ),
)

FOOTED_BOARD_SIZES: Mapping[str, Mapping[str, Any]] = {
    "small": {"length": "10 in", "width": "5 in", "feet_in": "2 in"},
    "medium": {"length": "14 in", "width": "9 in", "feet_in": "2 1/2 in"},
    "large": {"length": "18 in", "width": "11 in", "feet_in": "3 in"},
}
