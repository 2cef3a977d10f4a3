"""What can be changed of a graded stack, and its sizes: proportions of our own for boards 5/8 in thick."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from cutjob.designs.parameter import Parameter
from cutjob.designs.topper import TOPPER_PARAMETERS

GRADED_STACK_PARAMETERS = (
    Parameter(name="tiers", kind="count", help="how many pieces stand on the rod", least=1, greatest=60),
    Parameter(name="longest", kind="length", help="length of the lowest piece", least=15.0, greatest=3000.0),
    Parameter(name="shortest", kind="length", help="length of the top piece", least=5.0, greatest=3000.0),
    Parameter(
        name="step", kind="length", help="what each piece is shorter than the one below", least=0.0, greatest=1000.0
    ),
    Parameter(name="tallest", kind="length", help="height of the lowest piece", least=10.0, greatest=500.0),
    Parameter(name="least_height", kind="length", help="height of the top piece", least=5.0, greatest=500.0),
    Parameter(name="gap", kind="length", help="bare rod between two pieces", least=0.0, greatest=500.0),
    Parameter(
        name="top_gap",
        kind="length",
        help="bare rod below the top piece, where gaps close upwards; default: as all the others",
        least=0.0,
        greatest=500.0,
    ),
    Parameter(
        name="flat_from",
        kind="count",
        help="from which piece up the bottom edge is straight; default: none",
        least=1,
        greatest=60,
    ),
    Parameter(name="stops", kind="yes_no", help="holes in the rod for a tack under each piece", default=False),
    Parameter(name="stop", kind="length", help="diameter of a tack's hole", least=0.5, greatest=6.0, default="1/16 in"),
    Parameter(
        name="stands",
        kind="choice",
        help="how the pieces meet the rod: on edge, or lying flat",
        choices=("on edge", "flat"),
        default="on edge",
    ),
    Parameter(
        name="bottom",
        kind="pins",
        help="bottom edge, a thin strip bent round pins: [share of the way out to the tip, share of the height]",
        least=0.0,
        greatest=1.0,
        default=[[0, 0], [0.55, 0.1], [1, 0.34]],
    ),
    Parameter(
        name="top",
        kind="pins",
        help="top edge, a thin strip bent round pins: [share of the way out to the tip, share of the height]",
        least=0.0,
        greatest=1.0,
        default=[[0, 1], [0.5, 0.82], [1, 0.62]],
    ),
    Parameter(name="bore", kind="length", help="hole of the pieces for the rod", least=2.0, greatest=60.0),
    Parameter(name="rod", kind="length", help="diameter of the rod; default: the bore's", least=1.0, greatest=60.0),
    Parameter(
        name="foot",
        kind="length",
        help="bare rod between the base and the lowest piece",
        least=0.0,
        greatest=1000.0,
        default=0,
    ),
    Parameter(
        name="neck",
        kind="length",
        help="bare rod between the top piece and the topper",
        least=0.0,
        greatest=1000.0,
        default=0,
    ),
    Parameter(
        name="base",
        kind="lengths",
        help="pieces sawn off a board for the base, the lowest first",
        least=10.0,
        greatest=3000.0,
        default=[],
    ),
    *TOPPER_PARAMETERS,
    Parameter(
        name="centre_mark",
        kind="yes_no",
        help="a short line on the face that shows where to drill",
        default=False,
    ),
)

GRADED_STACK_SIZES: Mapping[str, Mapping[str, Any]] = {
    "small": {
        "tiers": 5,
        "longest": "9 1/2 in",
        "shortest": "4 in",
        "tallest": "1 5/8 in",
        "least_height": "1 1/8 in",
        "gap": "3/4 in",
        "bore": "5/16 in",
        "foot": "1/2 in",
        "neck": "1/4 in",
        "base": ["5 in"],
        "topper": "round",
        "topper_diameter": "1 3/4 in",
    },
    "medium": {
        "tiers": 7,
        "longest": "14 in",
        "shortest": "5 in",
        "tallest": "2 in",
        "least_height": "1 1/4 in",
        "gap": "7/8 in",
        "bore": "3/8 in",
        "foot": "3/4 in",
        "neck": "1/2 in",
        "base": ["7 in", "5 in"],
        "topper": "star",
        "topper_diameter": "3 in",
    },
    "large": {
        "tiers": 9,
        "longest": "18 in",
        "shortest": "5 1/2 in",
        "tallest": "2 3/8 in",
        "least_height": "1 3/8 in",
        "gap": "1 1/8 in",
        "bore": "3/8 in",
        "foot": "1 in",
        "neck": "3/4 in",
        "base": ["9 in", "6 1/2 in"],
        "topper": "star",
        "topper_diameter": "4 in",
    },
}
