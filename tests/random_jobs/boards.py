"""Boards, rods and files of stock of a random job: rectangles, dog-ears, end cuts, sheets, knots and clamps."""

from __future__ import annotations

from typing import Any

from tests.random_jobs.scene import Scene, document, mm_of


def thicknesses(scene: Scene) -> list[float]:
    """What the job's boards may be, so that a cutter goes through the stack; rash jobs don't look."""
    if scene.thin:
        return [2, 2.5, 3, 3, *([6.5] if scene.rash else [])]
    if scene.kind == "pattern":
        return [9, 12, 16, 19, 25]
    outline = scene.cutters[:1]
    deepest = max(
        (
            mm_of(one.get("cutting_length", 1000))
            for one in scene.profile["cutter"]
            if not one.get("only_down") and (not outline or one["number"] in outline)
        ),
        default=25,
    )
    overcut = mm_of(scene.profile.get("cutting", {}).get("overcut", 0))
    fitting = [
        thick
        for thick in (3, 5, 6, 9, 11, 12, 15.9, 16, 19)
        if scene.rash or thick <= (deepest - overcut) / scene.stack
    ]
    return fitting[-4:] or [3]


def board(scene: Scene, name: str, *, thickness: float | None = None) -> dict[str, Any]:
    """A board's entry in a job or in a file of stock."""
    chance = scene.chance
    made: dict[str, Any] = {"name": name}
    length, width = _size(scene)
    if scene.some(0.3):
        made["outline"] = _outline(scene, length, width)
    else:
        made |= {"length": scene.worded(length), "width": scene.worded(width)}
        if scene.some(0.4):
            made["corners"] = {
                "style": "dog-ear",
                "size": scene.length(5, 35),
                "end": chance.choice(["left", "right", "both"]),
            }
    made["thickness"] = scene.exactly(scene.thickness if thickness is None else thickness)
    made["grain"] = chance.choice(["length", "length", "none"])
    made["material"] = chance.choice(["softwood", "softwood", "hardwood", "plywood", "mdf"])
    made["count"] = chance.randint(1, 3) if scene.rash else chance.randint(3, 30)
    made["price"] = chance.choice([0, 0, 2.5, 4])
    if scene.some(0.4):
        made["keep_out"] = [_keep_out(scene, length, width) for _ in range(chance.randint(1, 3))]
    return made


def _size(scene: Scene) -> tuple[float, float]:
    travel = scene.profile.get("travel", {})
    longest, widest = (580.0, 390.0) if scene.thin else (880.0, 300.0)
    if travel and not scene.thin:
        longest = mm_of(travel["x"]) - 20
        if travel.get("open_ends") and scene.some(0.5):
            longest = 1500.0
    least = 150 if scene.rash else min(320, longest - 30)
    return scene.length(least, longest), scene.length(90, widest)


def _outline(scene: Scene, length: float, width: float) -> list[list[float]]:
    cut = scene.exactly(20) + scene.length(0, 60)
    return scene.chance.choice(
        [
            [[0, 0], [length, 0], [length - cut, width], [0, width]],
            [[0, 0], [length, 0], [length, width / 2], [length - cut, width], [0, width]],
            [[cut, 0], [length, 0], [length - cut / 2, width], [0, width * 0.75]],
            [[0, 0], [length, 0], [length, width], [length - cut, width / 2], [0, width]],
        ]
    )


def _keep_out(scene: Scene, length: float, width: float) -> dict[str, Any]:
    chance = scene.chance
    most = 0.98 if scene.rash else 0.72  # which lies on most boards, whatever their outline
    x, y = length * chance.uniform(0.05, most), width * chance.uniform(0.05, most)
    if scene.some(0.6):
        made: dict[str, Any] = {"at": [x, y], "radius": scene.length(4, 20)}
    else:
        a, b = scene.length(5, 30), scene.length(5, 30)
        made = {"outline": [[x, y], [x + a, y], [x + a / 2, y + b]]}
    if scene.some(0.3):
        made |= {"why": "clamp", "height": scene.length(3, 30)}
    elif scene.some(0.3):
        made["why"] = chance.choice(["knot", "nail (old)", "split; 100 %"])
    return made


def rods(scene: Scene) -> list[dict[str, Any]]:
    """Dowels, sometimes."""
    if not scene.some(0.3):
        return []
    return [
        {
            "name": "dowel",
            "diameter": scene.length(5, 12),
            "length": scene.length(300, 1200),
            "count": scene.chance.randint(1, 5),
            "price": 0.95,
        }
    ]


def stock_file(scene: Scene) -> str:
    """A file of stock: boards for this job, for others, leftovers, and what others took."""
    boards = [board(scene, f"shed board {number + 1}") for number in range(scene.chance.randint(1, 3))]
    if scene.some(0.5):
        boards.append(board(scene, "other thickness", thickness=scene.thickness + 7))
    for one in boards:
        if scene.some(0.2):
            one |= {"price": 0, "from": "Older goods (older.toml), board-01"}
        if scene.some(0.2):
            one["taken"] = [{"by": "Older goods (older.toml)", "count": scene.chance.randint(1, one["count"])}]
    return document({"units": scene.units}, {"board": boards, "rod": rods(scene)})
