"""One board to be judged: its programs as expected and as read, where they ran, and what must be cut there. mm.

A judge takes a `BoardCase` and returns findings. Results that several judges need are worked out once, when first asked
for: members of the case, and functions marked `once_a_board` in the modules of their subject.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property, wraps
from typing import TypeAlias, TypeVar, cast

import numpy as np

from cutjob.geometry.segment import Point
from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout
from cutjob.proof.board.curves import Floats, Ints
from cutjob.proof.board.cutter_rooms import CutterRooms
from cutjob.proof.board.edges_of_layout import edges_of_layout
from cutjob.proof.board.motions_in_parts import EndsInParts, InFeatures, ends_in_parts, in_features
from cutjob.proof.board.required_edges import MATERIAL, WALLED, RequiredEdges
from cutjob.proof.board.track_edge_pairs import TrackEdgePairs, cutting_reach, pairs_within
from cutjob.proof.board.tracks import Tracks, all_tracks, cutting
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding, Severity
from cutjob.proof.gcode.reading import Reading
from cutjob.tolerances import TOLERANCES

MOST_FINDINGS = 20  # of one kind on one board; a shifted file would list every part


@dataclass(frozen=True, kw_only=True)
class BoardCase:
    """The programs of a board layout in the order they are run, as expected and as read, and the machine they are for.
    `motions` holds every motion, rapids too; `tracks` holds the pieces of these that are in the stock.

    With `one_of_several` the board has other files too. Where `holding_required`, a router's board must say how it is
    held.
    """

    programs: tuple[ExpectedProgram, ...]
    readings: tuple[Reading, ...]
    machine: Machine
    edges: RequiredEdges
    motions: Tracks
    tracks: Tracks
    one_of_several: bool = False
    holding_required: bool = False

    @property
    def layout(self) -> BoardLayout:
        """The board's layout."""
        return self.edges.layout

    @property
    def laser(self) -> bool:
        """Whether a beam cuts; its depth depends on its power."""
        return self.machine.has_beam

    @property
    def skin(self) -> float:
        """The planned thickness of the skin under the board's parts; 0 for none."""
        return max((program.skin for program in self.programs), default=0.0)

    @property
    def ramp_degrees(self) -> float | None:
        """The slope at which the profile lets the cutter rise onto tabs; None: straight up and down."""
        return self.machine.tabs.ramp_degrees if self.machine.tabs is not None else None

    @property
    def wall_left(self) -> float:
        """The most wood that rough passes leave on any wall."""
        return max(self.machine.cutting.finish, self.machine.cutting.pocket_finish)

    @property
    def pin(self) -> float:
        """The diameter of the pins that locate the board for its next window."""
        return self.machine.travel.pin if self.machine.travel is not None else 0.0

    @cached_property
    def files(self) -> str:
        """The names of all the board's files."""
        return ", ".join(dict.fromkeys(program.file for program in self.programs))

    @cached_property
    def last_pass(self) -> Floats:
        """By row how much wood rough passes may leave on a contour for one last pass at full depth."""
        edges, cutting = self.edges, self.machine.cutting
        allowed = np.zeros(len(edges.curves))
        if self.machine.has_spindle:
            allowed[edges.rows("outline", "hole")] = cutting.finish
            allowed[edges.rows("pocket")] = cutting.pocket_finish
            # A pocket's last pass also runs along the edges that meet the pocket.
            part = np.unique(edges.placement[edges.rows("pocket")])
            inner = edges.rows("through", "blind")
            passed = np.concatenate([np.flatnonzero(edges.gone > 0), inner[np.isin(edges.placement[inner], part)]])
            allowed[passed] = np.maximum(allowed[passed], cutting.pocket_finish)
        return allowed

    @cached_property
    def mark_depths(self) -> Floats:
        """By edge, its depth as a mark."""
        planned, usual = self.edges.every, self.machine.cutting.mark_depth
        return np.array([usual if self.laser else edge.depth or usual for edge in planned], dtype=float)

    @cached_property
    def passing(self) -> TrackEdgePairs:
        """The tracks and contours (without marks) that are as near as the wood left for a last pass."""
        aside = float(self.last_pass.max(initial=0.0))
        return pairs_within(self.tracks, self.edges, *MATERIAL, *WALLED, within=cutting_reach(self.tracks) + aside)

    @cached_property
    def touching(self) -> TrackEdgePairs:
        """The tracks and the contours (without marks) that they touch."""
        return self.passing.take(self.passing.distance <= cutting_reach(self.tracks)[self.passing.track])

    @cached_property
    def touching_marks(self) -> TrackEdgePairs:
        """The tracks and the marks they touch, at any depth."""
        within = np.full(len(self.tracks), TOLERANCES.acceptance)
        return pairs_within(self.tracks, self.edges, "mark", within=within)

    @cached_property
    def on_marks(self) -> TrackEdgePairs:
        """The tracks and the marks they run on. A deeper cut that crosses a mark belongs to a contour."""
        pairs = self.touching_marks
        depth = self.mark_depths[self.edges.edge[pairs.row]]
        return pairs.take(self.tracks.curves.lowest[pairs.track] >= -depth - TOLERANCES.acceptance)

    @cached_property
    def ends_in_parts(self) -> EndsInParts:
        """Where the tracks start and end in parts."""
        return ends_in_parts(self.tracks, self.edges)

    @cached_property
    def in_features(self) -> InFeatures:
        """The tracks and the pockets and blind holes that they clear."""
        return in_features(self.tracks, self.edges)

    @cached_property
    def cutter_rooms(self) -> CutterRooms:
        """The floors of pockets and blind holes, and the room about them."""
        return CutterRooms(self.edges)

    def error(
        self, check: str, message: str, track: int | None = None, *, of: Tracks | None = None, file: str | None = None,
        at: Point | None = None, measured: float | None = None, limit: float | None = None,
        severity: Severity = "error",
    ) -> Finding:  # fmt: skip
        """Return a finding about a motion, by its index in `of` (else in `tracks`), at its start unless another place
        is given; or about a file; or about all files of the board.
        """
        line = None
        if track is not None:
            motions = self.tracks if of is None else of
            file, line = self.programs[int(motions.program[track])].file, int(motions.line[track])
            at = (float(motions.curves.x0[track]), float(motions.curves.y0[track])) if at is None else at
        return Finding(
            check=check,
            severity=severity,
            message=message,
            file=self.files if file is None else file,
            line=line,
            at=at,
            measured=measured,
            limit=limit,
        )


def worst_of_each(group: Ints, value: Floats | Ints) -> Ints:
    """Return the index of the greatest value of each group, the first of several, by group."""
    order = np.lexsort((-value, group))
    return order[np.flatnonzero(np.diff(group[order], prepend=-1))]


Judge: TypeAlias = Callable[[BoardCase], Iterable[Finding]]
_Known = TypeVar("_Known")


def board_case(
    layout: BoardLayout,
    programs: Sequence[ExpectedProgram],
    readings: Sequence[Reading],
    machine: Machine,
    *,
    one_of_several: bool = False,
    holding_required: bool = False,
) -> BoardCase:
    """Return the case of a board, from its layout and its programs in the order they are run."""
    motions = all_tracks(programs, readings, machine)
    return BoardCase(
        programs=tuple(programs),
        readings=tuple(readings),
        machine=machine,
        edges=edges_of_layout(layout),
        motions=motions,
        tracks=cutting(motions),
        one_of_several=one_of_several,
        holding_required=holding_required,
    )


def once_a_board(work: Callable[[BoardCase], _Known]) -> Callable[[BoardCase], _Known]:
    """Make a function of a board run once for each board, and keep its result with the board."""
    name = f"{work.__module__}.{work.__qualname__}"

    @wraps(work)
    def ask(case: BoardCase) -> _Known:
        if name not in case.__dict__:
            case.__dict__[name] = work(case)
        return cast(_Known, case.__dict__[name])

    return ask
