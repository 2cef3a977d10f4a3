"""A DXF file to the shapes drawn in it: model space, blocks put in their places, hidden layers left out."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from cutjob.errors import CutjobError
from cutjob.job.drawing import DEEPEST, FAR, MOST_SHAPES, Findings, Shape, Units
from cutjob.job.dxf_curves import NotFlatError, drawn, points_of

if TYPE_CHECKING:
    from ezdxf.document import Drawing as DxfDocument
    from ezdxf.entities.dxfentity import DXFEntity
    from ezdxf.entities.insert import Insert
    from ezdxf.math import Matrix44

# $INSUNITS codes (DXF reference, header variables) with the exact length of each in mm.
_UNIT_CODES: dict[int, tuple[str, float]] = {
    1: ("in", 25.4),
    2: ("ft", 304.8),
    4: ("mm", 1.0),
    5: ("cm", 10.0),
    6: ("m", 1000.0),
    9: ("mil", 0.0254),
    10: ("yd", 914.4),
    14: ("dm", 100.0),
}
MOST_TAGS = 60_000  # things begun in a file, ends of them too; the library takes a second for every 20,000
MOST_BINARY = 2_000_000  # bytes of the binary form, in which what is begun can't be counted beforehand
# Fitting a spline takes as long for each of its points as so many lines, and may come to nothing in the end.
_WORK_OF_A_SPLINE = 2
_NAME_OF_ERROR = re.compile(r"^[A-Za-z]+Error: ")
_STATE_UNITS = 'state them with the drawing: units = "in" or units = "mm"'


def read_dxf(path: Path, *, units: Units | None, scale: float = 1.0) -> Findings:
    """Return the shapes of a DXF file in mm, `scale` times as large as drawn, and its problems.

    `units` overrides those the file names.
    """
    from ezdxf.math import Matrix44

    found = Findings(file=str(path))
    document = _document(path, found)
    if document is None:
        return found
    if not _units(document, units, found):
        return found
    found.enlarge(scale)
    walk = _Walk(document, found)
    size = found.mm_per_unit
    walk.entities(document.modelspace(), _Place(Matrix44.scale(size, size, size), None, ()))
    if (
        not found.shapes
        and not found.problems
        and any(len(layout) for layout in document.layouts if layout.is_any_paperspace)
    ):
        found.problem("has drawings on its paper pages only", "draw the parts in model space, at full size")
    return found


def _document(path: Path, found: Findings) -> DxfDocument | None:
    from ezdxf.filemanagement import read, readfile

    try:
        data = path.read_bytes()
        binary = data.startswith(b"AutoCAD Binary DXF")
        if not binary and _begun(data) > MOST_TAGS:
            found.problem(f"holds more than {MOST_TAGS} things", "leave out what is not to be cut")
            return None
        if binary and len(data) > MOST_BINARY:
            message = f"is in the binary form and larger than {MOST_BINARY // 1_000_000} MB"
            found.problem(message, "leave out what is not to be cut, or export it as text")
            return None
        if data.startswith(b"\xef\xbb\xbf"):  # a byte order mark, which some editors put in front
            return read(io.StringIO(data[3:].decode("utf-8", errors="surrogateescape"), newline=None))
        if not binary and b"\0" in data:
            found.problem("is not a DXF file", "export the drawing as DXF")
            return None
        document = readfile(path)
        document.modelspace()  # missing in some damaged files
    except Exception as error:  # the library raises nearly anything on damaged files
        words = _words_of(error)
        found.problem(
            f"is damaged, cut short or no DXF file{': ' + words if words else ''}", "export the drawing as DXF again"
        )
        return None
    return document


def _words_of(error: Exception) -> str:
    """What the library says of a damaged file; nothing where it failed by an error that was not meant for anyone."""
    from ezdxf.lldxf.const import DXFError

    if not isinstance(error, (DXFError, OSError)):
        return ""
    text = _NAME_OF_ERROR.sub("", " ".join(str(error).split()))
    return text.rstrip(".")[:120]


def _begun(data: bytes) -> int:
    """How many things a file begins: its even lines are codes, of which 0 begins one (DXF reference, group codes)."""
    return sum(code.strip() == b"0" for code in data.split(b"\n")[::2])


def _units(document: DxfDocument, units: Units | None, found: Findings) -> bool:
    if units is not None:
        found.set_units(units, 25.4 if units == "in" else 1.0)
        return True
    code = int(document.header.get("$INSUNITS", 0))
    if code in _UNIT_CODES:
        found.set_units(*_UNIT_CODES[code])
        return True
    if code == 0:
        found.problem("does not say in which units it is drawn", _STATE_UNITS)
    else:
        found.problem(f"is drawn in units nobody cuts wood in ($INSUNITS {code})", _STATE_UNITS)
    return False


@dataclass(frozen=True, slots=True)
class _Place:
    """Where entities stand: the matrix to mm, the layer of the block reference, the blocks gone through."""

    matrix: Matrix44
    layer: str | None
    blocks: tuple[str, ...]


def _value(entity: DXFEntity, name: str, default: object) -> object:
    """Return a property; kinds of entity the library doesn't know have none."""
    return entity.dxf.get(name, default) if entity.dxf.is_supported(name) else default


class _Walk:
    def __init__(self, document: DxfDocument, found: Findings) -> None:
        self.document, self.found = document, found

    def entities(self, entities: Iterable[DXFEntity], place: _Place) -> None:
        for entity in entities:
            if not self.found.visit():
                return
            self.entity(entity, place)

    def entity(self, entity: DXFEntity, place: _Place) -> None:
        kind = entity.dxftype()
        own = str(_value(entity, "layer", "0"))
        # Layer 0 within a block stands for the layer the block is put on (DXF reference, INSERT).
        layer = place.layer if own == "0" and place.layer is not None else own
        hidden = self.hidden(entity, layer, block=kind == "INSERT")
        if hidden:
            self.found.ignored[f"{kind} {hidden}"] += 1
        else:
            self.shown(entity, layer, place)

    def shown(self, entity: DXFEntity, layer: str, place: _Place) -> None:
        from ezdxf.lldxf.const import DXFError

        kind = entity.dxftype()
        words = f'{kind} {_value(entity, "handle", "")} on layer "{layer}"'.replace("  ", " ")
        try:
            if kind == "INSERT":
                self.insert(entity, layer, place)  # type: ignore[arg-type]
            else:
                self.drawn(entity, layer, place, words)
        except CutjobError as error:
            self.found.unfit(error, place=words)
        except (DXFError, AttributeError, LookupError, TypeError):  # what the entity should have is missing
            self.found.problem("is not complete", "draw it again", place=words)
        except (ValueError, ArithmeticError) as error:
            plain = str(error) == FAR or isinstance(error, NotFlatError)
            said = str(error).rstrip(".")
            self.found.problem(said if plain else f"makes no sense: {said}", "draw it again", place=words)

    def hidden(self, entity: DXFEntity, layer: str, *, block: bool) -> str:
        if _value(entity, "invisible", 0):
            return "that is invisible"
        if not self.document.layers.has_entry(layer):
            return ""
        entry = self.document.layers.get(layer)
        if entry.is_frozen():
            return f'on layer "{layer}", which is frozen'
        # What stands in a block on other layers shows even if the block's own layer is off.
        if entry.is_off() and not block:
            return f'on layer "{layer}", which is off'
        return ""

    def insert(self, insert: Insert, layer: str, place: _Place) -> None:
        name = str(insert.dxf.get("name", ""))
        words = f'block "{name}"'
        block = insert.block()
        if block is None:
            self.found.problem("is used but not defined", "export the drawing again", place=words)
            return
        if name.lower() in place.blocks:
            self.found.problem("contains itself", "explode it in the drawing, or take it out of itself", place=words)
            return
        if len(place.blocks) >= DEEPEST:
            self.found.problem(f"lies in more than {DEEPEST} other blocks", "explode it in the drawing", place=words)
            return
        if block.block is not None and block.block.is_xref:
            self.found.ignored[f'reference to another file, "{name}"'] += 1
            return
        count = max(1, insert.dxf.get("row_count", 1)) * max(1, insert.dxf.get("column_count", 1))
        if count > MOST_SHAPES:
            self.found.problem(f"is repeated {count} times", "leave out what is not to be cut", place=words)
            return
        for copy in insert.multi_insert() if count > 1 else [insert]:
            inner = copy.matrix44() * place.matrix
            self.entities(block, _Place(inner, layer, (*place.blocks, name.lower())))

    def drawn(self, entity: DXFEntity, layer: str, place: _Place, words: str) -> None:
        points = points_of(entity)
        if not self.found.room_for(points, place=words):
            return
        if entity.dxftype() in ("SPLINE", "HELIX"):
            self.found.segments += _WORK_OF_A_SPLINE * points
        result = drawn(entity, place.matrix)
        if result is None:
            self.found.ignored[entity.dxftype()] += 1
            return
        segments, closed, deviation = result
        self.found.add(Shape(layer=layer, segments=segments, closed=closed, deviation=deviation, place=words))
