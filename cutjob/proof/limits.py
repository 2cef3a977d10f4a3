"""The limits of the proof: every limit that decides whether a file is accepted, by its purpose and with its reason.

Limits that also bind the makers of the cuts are in `TOLERANCES`. Slack for arithmetic, or the number of places looked
at together, is where it is used. Lengths are in mm unless stated otherwise. Where no source is named the value is our
choice.
"""

from __future__ import annotations

import math

from cutjob.tolerances import TOLERANCES

# The cutter's edge against the outline. How far a cutter bites in, and how much it leaves, is worked out exactly and
# accepted up to `TOLERANCES.acceptance`. Polygons only decide where a cutter gets to, and how much of a floor it swept.
POCKET_CHORD = 0.002  # chord error of polygons of pockets and blind holes
PART_CHORD = 0.01  # chord error of polygons of whole parts
DISC_OVERLAP = 0.002  # overlap of a cutter laid against a wall with its part that still counts as fitting: rounding
DISC_OVERLAP_AT_FLOORS = 0.008  # the same with both walls of a slot a hair narrower than the cutter
NEARER_TO_WALLS = 0.006  # how much nearer than its radius a cutter's middle may come to a wall, to fit an exact slot
HELD_OFF_BY_CHORDS = 0.002  # how far chords may keep it off
SWEPT_WIDER = 0.009  # how much wider floors count as swept: within the acceptance, and more than chords take off
SWEPT_CHORD = 0.006  # chord error of the edges of swept areas

# Contours of one part that meet.
MEETING = 0.03  # contours nearer than this may meet, or run along each other
INTO_WOOD = 0.006  # how far inside a contour the wood is probed: clear of the chords of two polygons
INTO_PART = 0.03  # the same for the part's edge: a pocket drawn this near to the edge runs out over it
SHORTEST_PIECE = 0.05  # a shorter piece between two meetings is dropped: its neighbours cover what it would
# A point this near to a pocket counts as in it. Only middles of cutters that keep well off the wood that must stay are
# tested, and polygons cut corners by less.
BESIDE_POCKET = 0.03

# Wood left.
SHORTEST_LEFT = 0.1  # of a contour; shorter stretches are where one motion runs into the next
FLOOR_ASIDE = 0.1  # beside walls and unreached corners, where a floor isn't checked: the cut of the wall took that
FLOOR_DISC = 0.01  # the radius of a disc that fits into wood left on a floor
FLOOR_DISC_OUT_OF_REACH = 0.1  # the same, for places the cutter doesn't get into
CORNER_MOUTH = 0.02  # how near a corner out of reach is to the reached area where the two meet
BESIDE_TAB = 2 * TOLERANCES.acceptance  # off the part, where a tab's height is measured: a cut may be this near

# Corners left round. A place no deeper than the cutter is wide counts as one; deeper, its walls must come together.
CORNER_DEEP = 2.0  # times the cutter's radius
CORNER_WIDEST = math.radians(45)  # half the angle between the walls, where the cutter touches them; walls may bend
CORNER_ENTRY_AT_FLOORS = 0.9  # times what straight walls make it, by polygons and with walls that bend
CORNER_SHARE = 0.75  # of the box on its mouth that a corner fills: with straight walls a half, a parabola two thirds
CORNER_ENTRY = 0.05  # of the cutter's width, by which bent walls may be nearer than where it touches both

# Leads. A quarter of a turn is pi / 2 times its radius long and ends 1.41 of it away from where it began.
LEAD_LENGTH = math.pi / 2  # times the profile's greatest radius
LEAD_ASIDE = 1.5  # times it
LEAD_SPARE = 1.0  # added to both
BESIDE_CONTOUR = 1.0  # of the cutter's edge: a motion this near beside a contour has a purpose
OFF_BOARD_SPARE = 1.0  # beyond the room that leads round a part on the very edge of the board may take

# Passes.
PASS_DEEPER = 1.02  # times the stated depth: rounding, and the slope of a ramp under the cutter
# How far before a tab rough passes may rise already: the last pass goes down nearer to it, to full depth.
UP_BEFORE_TAB = 0.6
TAB_SPARE = 1.0  # beyond a tab and its ramp, where the cutter comes down behind it
# How far beyond wood left every pass that ends there has cut, rough passes a little earlier than the last. Nearer to it
# only the round end of the cut may have cut: within the acceptance that is 0.5 mm from a cutter of 25.
BEYOND_ROUND_END = 0.8
ROUND_END = 0.7
CORNER_LEFT = 4.0  # times the wood left on walls, which may be left in an inside corner: walls at 29 degrees
SLOT_FACE = 0.9  # of the cutter's radius, where its face is checked beside the middle
NEW_PLACES = 3  # of nine places over the face: a level way must take new wood at this many before it counts
SAME_HEIGHT = 0.25  # of a pass's depth: wood the cutter took right before, at about this height, still counts as new
BURNED_AGAIN = 1.0  # of a contour or mark, which may be burned once more where a beam comes back to its start
SHORT_CHORD = 2.0  # several tracks shorter than this, one after another, may touch one place where they meet

# Direction, and ways down.
ALONG_CONTOUR = 0.95  # cosine between a track and the contour it runs along: 18 degrees
NO_RAMP = 0.2  # times the slope of the table's ramp: anything less steep isn't a ramp
STEEPER_RAMP = 1.1  # times the slope of the table's ramp
NEW_WOOD_AT_EDGE = 0.3  # which a straight way down beside an edge may take: rounding and a slope leave this much

# How a board is held. Common practice, no source: wood under a millimetre wide bears nothing.
WEAK_WOOD = 0.5  # taken off wood along every cut; less for narrow slots and tabs
WEAK_OF_SLOT, WEAK_OF_TAB = 1 / 6, 1 / 4  # at most these shares of a slot's and a tab's width
# Smaller waste is the neck of a bridge: about 5 by 5 mm, no wider than a bridge itself. Common practice, no source.
LEAST_WASTE = 25.0  # mm2
LEAST_BRIDGE = 0.05  # share of a slot's width squared; smaller is a crumb of arithmetic
MOST_BRIDGES = 3  # between a part and a hold; common practice, no source
LEAST_BRIDGES = 2  # on the outline of a part; common practice, no source
SPREAD = 0.1  # share of a part's width by which its middle may lie outside its bridges; common practice, no source
SPREAD_SPARE = 0.1  # by which the plan's middle of a part may lie elsewhere
HELD_SHARE = 0.1  # of a hold's area that must lie on a piece to hold it
HOLD_ON_PART = 1.0  # mm2 of a part that a hold may cover: arithmetic
TAB_TO_WOOD = 0.5  # from a tab's middle to its wood
TOUCHING = 0.02  # between things that count as touching: bridges, pieces, the edges of parts

# Feeds, spindle and beam.
FEED_ROUNDING = 1.001  # times a feed: one converted between units is written rounded
SPEED_ROUNDING = 1.0  # rpm; S words are written as whole numbers
POWER_ROUNDING = 0.06  # S words of a beam are written with one decimal
SLOWEST_BEAM = 0.75  # of a laser's feed; at half of it the beam is on a spot twice as long, and burns
SLOWEST_CUT = 0.47  # of a router's feed: half, less a little, because a ramp on a tight arc is slowed twice
CORNER_TURN = 1.1  # radians; chords that turn by more don't stand for an arc: a circle has at least six
TINY_CHORD = 0.05  # shorter chords stand for an arc, as in a bore hardly wider than its cutter
STRAIGHT_TURN = 0.005  # radians between two pieces of a straight line: the rounding of their ends turns them a little
LONGEST_WAIT = 10.0  # s, or twice the time to speed; common practice, no source

# Texts, drawings, patterns and plans.
SAID_LENGTH, SAID_PLACE, SAID_IN_BOTH = 0.02, 0.03, 0.03  # rounding of texts, chords of round clamps; in mm and inches
DRAWN_TWICE = 0.1  # length of lines drawn beyond that of the strokes
SAME_LOOK = 0.005  # widths and dashes of lines
PAGES_SHARE = 2.0  # two pages whose windows share at least this are neighbours
BOX_SQUARE = 0.01  # how far a box's sides may be out of true
ROUND_CHORDS = 0.02  # by which a plan's polygons of round keep-outs and heads may differ
CUT_FOLLOWS = 1.0  # a contour is followed if half of it has a cut this near to the right place
CUT_ALONG = 0.25  # a cut this near to the right place for a contour runs along it
BY_CHANCE = 0.5  # share of a file's cuts that may run along the contours of another job by chance


def longest_lead(radius: float) -> float:
    """Return the greatest length of a lead, if the profile's greatest has this radius."""
    return LEAD_LENGTH * radius + LEAD_SPARE


def lead_reach(radius: float, left: float) -> float:
    """Return how far leads may be from a contour on which rough passes leave this much wood."""
    return LEAD_ASIDE * radius + left + LEAD_SPARE


def off_board(diameter: float, lead: float) -> float:
    """Return how far a cutter may run off the board: its width, a lead-in and a lead-out beside each other, 1 mm."""
    return diameter + 2 * lead + OFF_BOARD_SPARE
