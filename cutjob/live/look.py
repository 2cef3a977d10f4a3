"""What the page shows at once of a job's text: its lines, its mistakes, the finished pieces and their parts.

Nothing is laid out or cut for it. While a text has mistakes, the pictures are those of the last one without.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from cutjob.errors import CutjobError, InputError, Location, Problem
from cutjob.files.fields import KeyPath
from cutjob.files.source import Source, parse_source
from cutjob.job.finish import shows_grain, wood_tone
from cutjob.job.job import Job
from cutjob.job.stock import Board
from cutjob.layout.layout import BoardLayout
from cutjob.layout.rules import may_lie_on
from cutjob.live.hand import HandDrawing, hand_drawings
from cutjob.live.lines import Section, design_of, lost_problems, problem_words, sections_of, shop_section
from cutjob.output.picture.board import draw_wood
from cutjob.output.picture.finished import Drawing, Looks, front_drawing, item_size, svg_of
from cutjob.output.picture.svg_shapes import Sheet, coordinate, printable
from cutjob.parts.part import Item
from cutjob.reports.assembly import as_measured
from cutjob.reports.sheet.notebook import letter_height
from cutjob.resolved import order_of
from cutjob.stages import Stop
from cutjob.units import RULE, TAPE, Unit, spelled


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownItem:
    """A finished piece: its pictures, whole and in parts, its sizes in words, and its drawings by hand."""

    path: KeyPath
    name: str
    count: int
    picture: str | None
    parts: str | None
    measures: tuple[tuple[str, str], ...]
    drawings: tuple[HandDrawing, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownBoard:
    """A board of the job's own with its knots and clamps, as it can be drawn on; mm, as a `HandDrawing`.

    Of several boards `alone` is the line of the file for one of them by itself.
    """

    path: KeyPath
    name: str
    svg: str
    left: float
    bottom: float
    width: float
    height: float
    length: float
    across: float
    count: int = 1
    alone: Mapping[str, object] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """All of it. `sections` are empty where the text is not TOML. `lost` are the mistakes that stand at no line of the
    page. `tape` and `rule` are the steps of a tape and a rule, mm.
    """

    unit: Unit
    sections: tuple[Section, ...]
    mistakes: tuple[dict[str, object], ...]
    lost: tuple[str, ...]
    items: tuple[ShownItem, ...]
    boards: tuple[ShownBoard, ...]
    tape: float
    rule: float

    @property
    def valid(self) -> bool:
        """Whether the job can be laid out."""
        return not self.mistakes


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadText:
    """A text as read: the source, where it is TOML, the job and items, where they have no mistakes, or the problems."""

    source: Source | None
    order: tuple[Job, tuple[Item, ...]] | None
    problems: tuple[Problem, ...]


def read_text(text: str, path: Path, *, outside: Sequence[Problem] = ()) -> ReadText:
    """Read a job's text as `make` reads the file at `path`. `outside` are problems found before, which it then has."""
    try:
        source = parse_source(text.encode("utf-8"), name=str(path))
    except InputError as error:
        return ReadText(source=None, order=None, problems=error.problems)
    if outside:
        return ReadText(source=source, order=None, problems=tuple(outside))
    try:
        return ReadText(source=source, order=order_of(source, path), problems=())
    except InputError as error:
        unit: Unit = "in" if source.data.get("units") == "in" else "mm"
        return ReadText(source=source, order=None, problems=error.spelled(unit).problems)


def look_at(
    read: ReadText,
    path: Path,
    *,
    shop: Source | None = None,
    handles: bool = True,
    lines: bool = True,
    stop: Stop | None = None,
) -> Look:
    """Return what the page shows of a text that was read from `path`, with the lines of its `shop` file; sooner without
    `lines`, boards and the pictures of parts, or without `handles`. Raises StoppedError once `stop` says so.
    """
    source = read.source
    unit: Unit = "mm"
    sections: tuple[Section, ...] = ()
    lost: Sequence[Problem] = read.problems
    if source is not None:
        unit = "in" if source.data.get("units") == "in" else "mm"
        sections = sections_of(source, folder=path.parent, problems=read.problems) if lines else ()
        lost = lost_problems(source, read.problems)
        if shop is not None and lines:
            sections = (*sections, shop_section(shop, problems=read.problems))
            lost = lost_problems(shop, lost)
    return Look(
        unit=unit,
        sections=sections,
        mistakes=tuple(map(mistake, read.problems)),
        lost=tuple(f"{_place(problem.location)}: {problem_words(problem)}" if problem.location
                   else problem_words(problem) for problem in lost),
        items=() if read.order is None else tuple(_items(*read.order, handles=handles, parts=lines, stop=stop)),
        boards=() if read.order is None or not lines else tuple(_boards(read.order[0])),
        tape=TAPE[unit],
        rule=RULE[unit],
    )  # fmt: skip


def _place(location: Location) -> str:
    """The file's name and the line: all files of a page lie together."""
    return str(replace(location, file=Path(location.file).name))


def mistake(problem: Problem) -> dict[str, object]:
    """Return a problem as data: the line `make` prints, and its line in the file."""
    where: Location | None = problem.location
    return {"said": str(problem), "line": None if where is None else where.line, "words": problem_words(problem)}


def look_data(look: Look) -> dict[str, object]:
    """Return it as data for the page."""
    return asdict(look)


def _items(job: Job, items: Sequence[Item], *, handles: bool, parts: bool, stop: Stop | None) -> list[ShownItem]:
    shown = []
    for index, item in enumerate(items):
        path: KeyPath = ("make", index)
        design = design_of(job.source, path, folder=job.path.parent)
        whole, looks = bool(item.build.stands), _looks(job, item)
        size, front = item_size(item.build), front_drawing(item.build, looks)
        measures = [(name, as_measured(value, job.file.units)) for name, value in item.build.facts]
        if size is not None:
            wide, high = (as_measured(value, job.file.units) for value in size)
            measures.insert(0, ("over all", f"{high} high, {wide} wide"))
        shown.append(
            ShownItem(
                path=path,
                name=item.name,
                count=item.count,
                picture=_picture(front, f"{printable(item.name)}, seen from the front"),
                parts=_picture(
                    front_drawing(replace(item.build, stands=()), looks), f"The parts of {printable(item.name)}"
                )
                if parts and whole and item.build.shaped
                else None,
                measures=tuple((name, spelled(words, job.file.units)) for name, words in measures),
                drawings=() if design is None else _drawings(job, item, index, whole=front, handles=handles, stop=stop),
            )
        )
    return shown


def _looks(job: Job, item: Item) -> Looks:
    """The colours of an item's parts, before it is known which board each comes off: the first of its wood."""
    tones, plain = {}, set()
    for part in item.build.from_boards:
        board = next((one for one in job.boards if may_lie_on(part, one)), None)
        if board is not None:
            tones[part.name] = wood_tone(board.name, board.material)
            if not shows_grain(board.material):
                plain.add(part.name)
    return Looks(tones=tones, plain=frozenset(plain), finish=dict(item.finish))


def _picture(drawing: Drawing | None, title: str) -> str | None:
    return None if drawing is None else svg_of(drawing, title=title)


def _drawings(
    job: Job, item: Item, index: int, *, whole: Drawing | None, handles: bool, stop: Stop | None
) -> tuple[HandDrawing, ...]:
    path: KeyPath = ("make", index)
    design = design_of(job.source, path, folder=job.path.parent)
    if design is None:
        return ()
    try:
        return hand_drawings(
            job.file.make[index], item, design, path=path, job=job, whole=whole, handles=handles, stop=stop
        )
    except CutjobError:
        return ()


def _boards(job: Job) -> list[ShownBoard]:
    own = {entry.board.name: entry.board for entry in job.entries}
    lines = job.source.data.get("board")
    assert isinstance(lines, list)
    shown = []
    for index, stated in enumerate(job.file.board):
        if stated.name in own:
            one = board_drawing(own[stated.name], path=("board", index))
            alone = {**lines[index], "count": 1} if stated.count > 1 else None
            shown.append(replace(one, count=stated.count, alone=alone))
    return shown


def board_drawing(board: Board, *, path: KeyPath) -> ShownBoard:
    """Return the picture of a bare board."""
    text = letter_height(board)
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "font-family": "sans-serif", "role": "img"})
    SubElement(root, "title").text = printable(f"the board {board.name}")
    sheet = Sheet(root=root, left=text, bottom=text + board.width, text=text)
    draw_wood(sheet, BoardLayout(id="board", board=board, stack=1, copies=1, placements=()))
    width, height = board.length + 2 * text, board.width + 2 * text
    root.set("viewBox", f"0 0 {coordinate(width)} {coordinate(height)}")
    return ShownBoard(
        path=path,
        name=board.name,
        svg=ElementTree.tostring(root, encoding="unicode"),
        left=text,
        bottom=text + board.width,
        width=width,
        height=height,
        length=board.length,
        across=board.width,
    )
