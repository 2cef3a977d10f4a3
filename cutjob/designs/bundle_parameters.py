"""What can be changed of a bundle of laths or sticks, and its sizes: proportions of our own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from cutjob.designs.parameter import Parameter

BUNDLE_PARAMETERS = (
    Parameter(
        name="of",
        kind="choice",
        help="laths cut on the machine, round sticks, or strips only sawn to length",
        choices=("laths", "sticks", "strips"),
        default="laths",
    ),
    Parameter(name="tiers", kind="count", help="how many pieces hang below one another", least=1, greatest=60),
    Parameter(name="longest", kind="length", help="length of the lowest piece", least=20.0, greatest=3000.0),
    Parameter(name="shortest", kind="length", help="length of the top piece", least=10.0, greatest=3000.0),
    Parameter(name="step", kind="length", help="what each piece is shorter than the one below", least=0, greatest=1000),
    Parameter(name="width", kind="length", help="of a lath or strip", least=5.0, greatest=200.0, default="3/4 in"),
    Parameter(name="rounding", kind="length", help="of a lath's corners", least=0.0, greatest=100.0, default="3/16 in"),
    Parameter(
        name="stick", kind="length", help="diameter of a round stick", least=4.0, greatest=80.0, default="1/2 in"
    ),
    Parameter(name="strip", kind="length", help="thickness of a strip", least=3.0, greatest=80.0, default="3/8 in"),
    Parameter(name="gap", kind="length", help="bare cord above the lowest piece", least=0.0, greatest=500.0),
    Parameter(
        name="top_gap",
        kind="length",
        help="bare cord below the top piece, where gaps close towards it; default: as all the others",
        least=0.0,
        greatest=500.0,
    ),
    Parameter(name="hole", kind="length", help="of the cords", least=1.0, greatest=30.0, default="1/4 in"),
    Parameter(name="holes_apart", kind="length", help="between the two cords: upright", least=5.0, greatest=3000.0),
    Parameter(
        name="holes_share",
        kind="number",
        help="between the two holes, as a share of a piece's length: the cords lean",
        least=0.05,
        greatest=0.98,
    ),
    Parameter(name="knot", kind="length", help="cord a knot takes", least=0.0, greatest=200.0, default="1 in"),
    Parameter(
        name="hanger",
        kind="length",
        help="cord above the top piece, of each of the two",
        least=0.0,
        greatest=3000.0,
        default="8 in",
    ),
    Parameter(
        name="star_tips", kind="count", help="tips of a star of equal laths; 0: none", least=0, greatest=24, default=0
    ),
    Parameter(
        name="star_skip",
        kind="count",
        help="each lath of the star runs to the tip that many further round",
        least=1,
        greatest=11,
        default=2,
    ),
    Parameter(
        name="star_stick", kind="length", help="length of the star's laths", least=20.0, greatest=1500, default="6 in"
    ),
)

BUNDLE_SIZES: Mapping[str, Mapping[str, Any]] = {
    "small": {"tiers": 5, "longest": "9 in", "shortest": "4 in", "gap": "1 1/2 in", "holes_share": 0.75},
    "medium": {
        "tiers": 7,
        "longest": "13 in",
        "shortest": "5 in",
        "gap": "2 in",
        "top_gap": "1 in",
        "holes_share": 0.75,
        "star_tips": 5,
    },
    "large": {
        "tiers": 9,
        "longest": "17 in",
        "shortest": "6 in",
        "gap": "2 1/2 in",
        "top_gap": "1 1/8 in",
        "holes_share": 0.8,
        "star_tips": 5,
        "star_stick": "8 in",
    },
}
