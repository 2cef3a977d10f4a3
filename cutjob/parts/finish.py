"""What a part's surfaces are painted with.

*faces* are the two flat sides, *edges* all round between them, *ends* those edges that cross the grain: with the normal
within 45 degrees of it. The sides of sticks count as their faces. A part whose grain may lie any way has no ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias, get_args

Surface: TypeAlias = Literal["faces", "edges", "ends"]
SURFACES: tuple[Surface, ...] = get_args(Surface)


@dataclass(frozen=True, slots=True, kw_only=True)
class Coat:
    """A paint or a finish by the name the job gives it. `colour` is red, green and blue, 0 to 255; that of a `clear`
    one is what is left of white: the wood shows, in its tone multiplied by it.
    """

    name: str
    colour: tuple[int, int, int]
    clear: bool = False

    def on(self, wood: tuple[int, int, int]) -> tuple[int, int, int]:
        """The colour it has on wood of a tone."""
        if not self.clear:
            return self.colour
        red, green, blue = (round(tone * share / 255) for tone, share in zip(wood, self.colour, strict=True))
        return red, green, blue


@dataclass(frozen=True, slots=True, kw_only=True)
class PartFinish:
    """The coat on each surface of a part; None: bare."""

    faces: Coat | None = None
    edges: Coat | None = None
    ends: Coat | None = None

    def on(self, surface: Surface) -> Coat | None:
        """The coat on a surface."""
        match surface:
            case "faces":
                return self.faces
            case "edges":
                return self.edges
            case "ends":
                return self.ends
