"""A job's `finish` to the coat on every surface of every part; the colours and tones it may name (finishes.toml)."""

from __future__ import annotations

import importlib.resources
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache
from typing import Annotated, Any, TypeAlias

from pydantic import BeforeValidator, Field

from cutjob.files.fields import FileModel, KeyPath, MistakesError
from cutjob.files.values import did_you_mean, nearest, shown
from cutjob.parts.finish import SURFACES, Coat, PartFinish, Surface
from cutjob.parts.part import Build, kind_of_part
from cutjob.parts.surfaces import surface_areas

Rgb: TypeAlias = tuple[int, int, int]
# A coat for the whole piece, or for surfaces of all parts and for parts, or for surfaces of a part.
Wanted: TypeAlias = str | dict[str, str | dict[Surface, str]]

_HEX = re.compile(r"#[0-9a-fA-F]{6}")
_MOST = 200  # entries of one finish


class _Plain(FileModel):
    materials: tuple[str, ...]


class _Usual(FileModel):
    coats: int


class _Finishes(FileModel):
    clear: dict[str, tuple[float, float, float]]
    wood: dict[str, Rgb]
    plain: _Plain
    usual: _Usual
    colour: dict[str, Rgb]


@cache
def _finishes() -> _Finishes:
    text = importlib.resources.files("cutjob.job").joinpath("finishes.toml").read_text(encoding="utf-8")
    return _Finishes.model_validate(tomllib.loads(text))


def usual_coats() -> int:
    """Return the coats of a finish where neither the job nor the shop says how many."""
    return _finishes().usual.coats


def coat_of(name: str) -> Coat:
    """Return the coat of a name: a CSS colour, a clear finish or `#rrggbb`. Raises KeyError for any other."""
    known, word = _finishes(), name.strip().lower()
    if word in known.clear:
        red, green, blue = (round(255 * share) for share in known.clear[word])
        return Coat(name=word, colour=(red, green, blue), clear=True)
    if _HEX.fullmatch(word):
        return Coat(name=word, colour=(int(word[1:3], 16), int(word[3:5], 16), int(word[5:7], 16)))
    return Coat(name=word, colour=known.colour[word])


def wood_tone(name: str, material: str) -> Rgb:
    """Return the tone of bare wood for the name of a board or stick and its material."""
    tones = _finishes().wood
    words = [*re.findall(r"[a-z]+", name.lower()), material.lower()]
    return next((tones[word] for word in words if word in tones), tones["other"])


def shows_grain(material: str) -> bool:
    """Return whether a material has a grain to be seen."""
    return material.lower() not in _finishes().plain.materials


def _read(raw: Any) -> Any:
    """The value as read, its coats in small letters. Raises MistakesError with the place of each wrong coat."""
    if isinstance(raw, str):
        mistakes = [*_wrong((), raw)]
    elif isinstance(raw, dict) and 0 < len(raw) <= _MOST:
        mistakes = [one for key, value in raw.items() for one in _wrong_entry(str(key), value)]
    else:
        raise ValueError(
            f'{shown(raw)} is no finish; write finish = "white" for the whole piece, or name parts and surfaces: '
            'finish = { ends = "white" }'
        )
    if mistakes:
        raise MistakesError(mistakes)
    return raw


def _wrong_entry(key: str, value: Any) -> Iterator[tuple[KeyPath, str]]:
    if not isinstance(value, dict):
        yield from _wrong((key,), value)
        return
    if key in SURFACES or not value:
        yield (key,), f'{shown(value)} is no coat; write {key} = "white"'
        return
    for surface, coat in value.items():
        if surface in SURFACES:
            yield from _wrong((key, str(surface)), coat)
        else:
            yield (key, str(surface)), f"a part has no surface {shown(surface)}; {nearest(str(surface), SURFACES)}"


def _wrong(path: KeyPath, coat: Any) -> Iterator[tuple[KeyPath, str]]:
    if not isinstance(coat, str):
        yield path, f'{shown(coat)} is no coat; write a name in quotes, such as "white"'
        return
    try:
        coat_of(coat)
    except KeyError:
        known = _finishes()
        meant = did_you_mean(coat.strip().lower(), (*known.colour, *known.clear))
        clear = ", ".join(known.clear)
        allowed = f'write the name of a CSS colour such as "white" or "navy", "#rrggbb", or one of {clear}'
        yield path, f"{shown(coat)} is no colour or finish; {meant or allowed}"


FinishWanted = Annotated[
    Wanted | None,
    BeforeValidator(_read),
    Field(
        default=None,
        description='paint or finish: "white" for the whole piece; { ends = "white" } for the ends, edges or faces of '
        'its parts; { piece = "navy" } or { "piece 3" = { edges = "gold" } } for a part, without or with its number, '
        'or its surfaces. Names are those of CSS colours, "#rrggbb", or oil, wax, varnish, lacquer',
    ),
]


def finish_of(wanted: Wanted | None, build: Build) -> tuple[tuple[str, PartFinish], ...]:
    """Return the finish of each part that gets one, by its name. What names a part with its number counts before its
    name without, this before surfaces of all parts. Ends without a coat of their own have that of the edges.
    """
    if wanted is None:
        return ()
    found = {name: _part_finish(wanted, name, has, stick=stick) for name, has, stick in _parts(build)}
    return tuple((name, finish) for name, finish in found.items() if finish != PartFinish())


def _parts(build: Build) -> Iterator[tuple[str, frozenset[Surface], bool]]:
    """Each part's name, the surfaces it has, and whether it is a stick."""
    for part in build.from_boards:
        yield part.name, frozenset(surface_areas(part)), False
    for stick in build.sticks:
        yield stick.name, frozenset(surface_areas(stick)), True


def _part_finish(wanted: Wanted, name: str, has: frozenset[Surface], *, stick: bool) -> PartFinish:
    finish = PartFinish()
    for surface in SURFACES:
        if surface in has and (coat := _coat_on(wanted, name, surface, stick=stick)) is not None:
            finish = replace(finish, **{surface: coat_of(coat)})
    return finish


def _coat_on(wanted: Wanted, name: str, surface: Surface, *, stick: bool) -> str | None:
    if isinstance(wanted, str):
        return wanted
    for key in dict.fromkeys((name, kind_of_part(name))):
        own = wanted.get(key) if key not in SURFACES else None
        if isinstance(own, str):
            return own
        if own is not None and (coat := _by_surface(own, surface)) is not None:
            return coat
    coats: Mapping[str, str] = {key: coat for key, coat in wanted.items() if key in SURFACES and isinstance(coat, str)}
    # The side of a rod is neither a face nor an edge that is meant with those of boards.
    return coats.get(surface) if stick and surface == "ends" else None if stick else _by_surface(coats, surface)


def _by_surface(coats: Mapping[Any, str], surface: Surface) -> str | None:
    return coats.get(surface) or (coats.get("edges") if surface == "ends" else None)


def unknown_parts(wanted: Wanted | None, build: Build) -> Iterator[tuple[KeyPath, str, str]]:
    """Yield the key, the message and the advice for everything that a finish names and the item does not have."""
    if wanted is None or isinstance(wanted, str):
        return
    parts = [(name, has) for name, has, _ in _parts(build)]
    names = list(dict.fromkeys(known for name, _ in parts for known in (kind_of_part(name), name)))
    kinds = list(dict.fromkeys(kind_of_part(name) for name, _ in parts))
    for key, value in wanted.items():
        meant = [has for name, has in parts if key in SURFACES or key in (name, kind_of_part(name))]
        if not meant:
            advice = did_you_mean(key, names) or f"name one of {', '.join((*SURFACES, *kinds))}"
            yield (key,), f"it has no part {shown(key)}", advice
        for surface in (key,) if key in SURFACES else value if isinstance(value, dict) else ():
            if meant and not any(surface in has for has in meant):
                path = (key,) if key in SURFACES else (key, surface)
                advice = f"name {' or '.join(one for one in SURFACES if any(one in has for has in meant))}"
                why = "no part of it" if key in SURFACES else "the part"
                yield path, f"{why} has {surface}: the grain may lie any way, or it is a stick", advice
