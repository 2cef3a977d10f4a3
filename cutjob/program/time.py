"""How long moves take, from feeds, acceleration and the corners between them. Seconds, mm, mm/min.

Rest to rest a move takes d/v + v/a when d >= v^2/a, else 2 sqrt(d/a). At a corner the machine slows to the speed at
which it strays from the path by no more than s: v = sqrt(a s h / (1 - h)), h = sin(t/2) for legs at an angle t (180
degrees straight on); the same bounds hold for speeds round an arc, v^2 <= a r.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from cutjob.geometry.segment import Arc
from cutjob.job.machine import Motion
from cutjob.program.moves import Move

Vector = tuple[float, float, float]
_STRAIGHT: Vector = (0.0, 0.0, 0.0)


def corner_speed(before: Vector, after: Vector, *, acceleration: float, deviation: float) -> float:
    """Return the greatest speed (mm/s) from one direction (unit vectors) into the next."""
    dot = sum(a * b for a, b in zip(before, after, strict=True))
    # The angle between the legs is 180 degrees less the turn, so sin of its half is cos of half the turn.
    half = math.sqrt(max(0.0, min(1.0, (1 + dot) / 2)))
    if half > 1 - 1e-12:
        return math.inf
    return math.sqrt(acceleration * deviation * half / (1 - half))


def measure(moves: Sequence[Move], start: Vector, motion: Motion) -> tuple[float, float, float]:
    """Return (seconds, mm cut, mm of air moves) for moves that begin at `start`, from rest to rest."""
    lengths, speeds, firsts, lasts = [], [], [], []
    cut = air = 0.0
    here = start
    for move in moves:
        length, first, last, radius = _shape(here, move)
        here = (move.x, move.y, move.z)
        if length < 1e-9:
            continue
        speed = _speed(move, first, motion)
        if radius is not None:
            speed = min(speed, math.sqrt(motion.acceleration * radius))
        if move.kind == "rapid":
            air += length
        else:
            cut += length
        lengths.append(length)
        speeds.append(speed)
        firsts.append(first)
        lasts.append(last)
    return _seconds(lengths, speeds, firsts, lasts, motion), cut, air


def _shape(here: Vector, move: Move) -> tuple[float, Vector, Vector, float | None]:
    """Length, first and last direction and radius of a move."""
    dz = move.z - here[2]
    if move.centre is None:
        dx, dy = move.x - here[0], move.y - here[1]
        length = math.sqrt(dx * dx + dy * dy + dz * dz)
        if length == 0:
            return 0.0, _STRAIGHT, _STRAIGHT, None
        way = (dx / length, dy / length, dz / length)
        return length, way, way, None
    arc = Arc(here[:2], (move.x, move.y), move.centre, move.clockwise)
    flat = arc.length
    length = math.hypot(flat, dz)
    if length == 0:
        return 0.0, _STRAIGHT, _STRAIGHT, None
    (fx, fy), (lx, ly), share, rise = arc.direction_at(0.0), arc.direction_at(1.0), flat / length, dz / length
    return length, (fx * share, fy * share, rise), (lx * share, ly * share, rise), arc.radius


def _speed(move: Move, way: Vector, motion: Motion) -> float:
    if move.kind != "rapid":
        return move.feed / 60
    if abs(way[2]) < 1e-9:
        return motion.rapid / 60
    flat = math.hypot(way[0], way[1])
    limits = [motion.rapid_z / abs(way[2])]
    if flat > 1e-9:
        limits.append(motion.rapid / flat)
    return min(limits) / 60


def _seconds(
    lengths: Sequence[float],
    speeds: Sequence[float],
    firsts: Sequence[Vector],
    lasts: Sequence[Vector],
    motion: Motion,
) -> float:
    """Speeds at the joints from the corners, made reachable backward and forward, then a trapeze per move."""
    count, a = len(lengths), motion.acceleration
    joints = [0.0] * (count + 1)
    for i in range(1, count):
        corner = corner_speed(lasts[i - 1], firsts[i], acceleration=a, deviation=motion.corner_deviation)
        joints[i] = min(corner, speeds[i - 1], speeds[i])
    for i in range(count - 1, 0, -1):
        joints[i] = min(joints[i], math.sqrt(joints[i + 1] ** 2 + 2 * a * lengths[i]))
    for i in range(count - 1):
        joints[i + 1] = min(joints[i + 1], math.sqrt(joints[i] ** 2 + 2 * a * lengths[i]))
    total = 0.0
    for i, (length, speed) in enumerate(zip(lengths, speeds, strict=True)):
        enter, leave = joints[i], joints[i + 1]
        peak = min(speed, math.sqrt(a * length + (enter * enter + leave * leave) / 2))
        ramps = (2 * peak * peak - enter * enter - leave * leave) / (2 * a)
        total += (2 * peak - enter - leave) / a + max(0.0, length - ramps) / peak
    return total
