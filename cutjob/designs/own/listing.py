"""A design in lines for the terminal: what it makes, its sizes, its parameters with their limits."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from cutjob.designs.design import Design
from cutjob.designs.parameter import Parameter, default_text
from cutjob.units import Unit


def design_lines(design: Design, *, unit: Unit = "in") -> Iterator[str]:
    """Yield the name with a line of what it makes, then its sizes and parameters, indented."""
    yield f"{design.name}  {design.summary}"
    yield f"    sizes: {', '.join(design.sizes)}"
    width = max((len(parameter.name) for parameter in design.parameters), default=0)
    for parameter in design.parameters:
        default = _default(parameter, unit)
        yield f"    {parameter.name.ljust(width)}  {parameter.help}; {parameter.expects(unit=unit)}{default}"


def _default(parameter: Parameter, unit: Unit) -> str:
    if parameter.required:
        return "; must be given"
    raw: Any = parameter.default
    if raw is None or raw == []:
        return ""
    if parameter.kind == "pins":
        return "; has a default"
    if parameter.kind == "length" and isinstance(raw, (int, float)):
        raw = default_text(raw, unit)
    if isinstance(raw, bool):
        raw = "true" if raw else "false"
    return f"; default {raw}"
