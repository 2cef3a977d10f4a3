"""What can be changed of a stack of graded rods, and its sizes: sets of 9, 12 and 15, common practice, no source."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from cutjob.designs.parameter import Parameter

GRADED_RODS_PARAMETERS = (
    Parameter(name="tiers", kind="count", help="how many rods lie across the centre rod", least=1, greatest=60),
    Parameter(name="longest", kind="length", help="length of the lowest rod", least=15.0, greatest=3000.0),
    Parameter(name="shortest", kind="length", help="length of the top rod: a straight taper", least=5.0, greatest=3000),
    Parameter(name="step", kind="length", help="what each rod is shorter than the one below", least=0.0, greatest=1000),
    Parameter(
        name="curve",
        kind="pins",
        help="lengths by a thin strip bent round pins: [share of the way up, share of the longest]",
        least=0.0,
        greatest=1.0,
    ),
    Parameter(name="rod", kind="length", help="diameter of the rods", least=4.0, greatest=80.0, default="3/4 in"),
    Parameter(
        name="centre_rod", kind="length", help="diameter of the centre rod", least=2.0, greatest=60, default="3/8 in"
    ),
    Parameter(name="beads", kind="count", help="beads between two rods", least=0, greatest=20, default=1),
    Parameter(
        name="bead",
        kind="length",
        help="across a bead, as bought; as much of the centre rod each one takes",
        least=3.0,
        greatest=100.0,
        default="3/4 in",
    ),
    Parameter(
        name="bead_bore",
        kind="length",
        help="the beads' bore as bought; opened where it is narrower than the centre rod",
        least=0.5,
        greatest=60.0,
        default="3/16 in",
    ),
    Parameter(
        name="gap", kind="length", help="bare centre rod between rods without beads", least=0.0, greatest=500, default=0
    ),
    Parameter(name="top_bead", kind="yes_no", help="a bead on the top end", default=True),
    Parameter(
        name="foot",
        kind="length",
        help="bare centre rod between the base and the lowest rod",
        least=0.0,
        greatest=1000.0,
        default="1/2 in",
    ),
    Parameter(
        name="neck",
        kind="length",
        help="bare centre rod above the top rod, below its bead",
        least=0.0,
        greatest=1000.0,
        default=0,
    ),
    Parameter(name="base", kind="length", help="across the round base", least=20.0, greatest=1000.0),
    Parameter(
        name="base_socket",
        kind="length",
        help="how deep the centre rod goes into the base; default: right through",
        least=2.0,
        greatest=100.0,
    ),
    Parameter(
        name="base_round",
        kind="length",
        help="radius by which the base's upper edge is rounded over, by hand",
        least=0.0,
        greatest=50.0,
        default="1/4 in",
    ),
    Parameter(
        name="base_sockets", kind="count", help="sockets in a ring in the base", least=0, greatest=100, default=0
    ),
    Parameter(
        name="socket_ring",
        kind="length",
        help="circle through the sockets' centres",
        least=5.0,
        greatest=1000.0,
        default="3 1/2 in",
    ),
    Parameter(name="socket", kind="length", help="diameter of a socket", least=1.0, greatest=100.0, default="1/4 in"),
    Parameter(
        name="socket_depth", kind="length", help="depth of a socket", least=1.0, greatest=100.0, default="3/8 in"
    ),
)

GRADED_RODS_SIZES: Mapping[str, Mapping[str, Any]] = {
    "small": {"tiers": 9, "longest": "9 in", "shortest": "2 in", "base": "4 1/2 in"},
    "medium": {"tiers": 12, "longest": "12 in", "shortest": "2 1/4 in", "base": "5 in"},
    "large": {"tiers": 15, "longest": "15 in", "shortest": "2 1/2 in", "base": "5 1/4 in"},
}
