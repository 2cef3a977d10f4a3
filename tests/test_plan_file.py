"""The plan as the check of one file reads it, against json.loads of the whole."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob import plan_file
from cutjob.errors import InputError
from cutjob.plan_file import read_plan

nasty = st.text(st.sampled_from('ab[]{}"\\,:é'), max_size=6)
values = st.recursive(
    st.none() | st.booleans() | st.floats(allow_nan=False, allow_infinity=False) | nasty,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(nasty, inner, max_size=3),
    max_leaves=8,
)
boards = st.fixed_dictionaries(
    {"id": nasty, "placements": st.lists(values, max_size=2)},
    optional={"programs": st.lists(st.fixed_dictionaries({"file": st.sampled_from(["a.nc", "b.nc"]), "x": values}))},
)
plans = st.tuples(
    st.dictionaries(nasty, values, max_size=3),
    st.lists(boards, max_size=4),
    st.dictionaries(nasty, values, max_size=3),
)


def plan(parts: tuple[dict[str, Any], list[Any], dict[str, Any]]) -> dict[str, Any]:
    before, middle, after = parts
    return {"schema": "cutjob-plan/1", **before, "boards": middle, **after}


def kept(board: dict[str, Any]) -> dict[str, Any]:
    """What must be left of a board when `a.nc` is looked for."""
    programs = board.get("programs")
    if programs is None or any(one["file"] == "a.nc" for one in programs):
        return board
    return {"programs": [{"file": one["file"]} for one in programs]}


@given(plans, st.sampled_from([None, 1, "\t"]), st.booleans())
@settings(max_examples=150)
def test_the_file_s_board_is_as_in_the_file_and_all_else_too(
    tmp_path_factory: pytest.TempPathFactory, parts: Any, indent: Any, plain: bool
) -> None:
    path = tmp_path_factory.getbasetemp() / "plan.json"
    whole = plan(parts)
    path.write_text(json.dumps(whole, indent=indent, ensure_ascii=plain), encoding="utf-8")
    read = read_plan(path, "a.nc")
    assert read == {**whole, "boards": [kept(board) for board in whole["boards"]]}
    assert list(read) == list(whole)


def told(tmp_path: Path, text: str | bytes) -> str:
    path = tmp_path / "plan.json"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    with pytest.raises(InputError) as error:
        read_plan(path, "a.nc")
    (problem,) = error.value.problems
    assert problem.advice
    return problem.message


HEAD = '{"schema": "cutjob-plan/1", '


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "3",
        HEAD,
        HEAD + '"boards": [',
        HEAD + '"boards": [{}',
        HEAD + '"boards": [{}]',
        HEAD + '"boards": [{} {}]}',
        HEAD + '"boards": [{},, {}]}',
        HEAD + '"boards": [{}, 3]}',
        HEAD + '"boards": [{},]}',
        HEAD + '"boards": [, {}]}',
        HEAD + '"boards": [{"a": 1,}]}',
        HEAD + '"boards": [{}], "x": ]}',
        HEAD + '"boards": [{}]}}',
        '{"schema": "other/1", "boards": []}',
        b'{"schema": "cutjob-plan/1", "a": "\xff"}',
        "[" * 5000,
        "]" * 5000,
        '"' * 5001,
    ],
)
def test_what_is_no_plan_is_refused(tmp_path: Path, text: str | bytes) -> None:
    assert told(tmp_path, text) == "this is not a plan"


@pytest.mark.parametrize(
    "text",
    [
        HEAD + '"boards": [' + "{}," * 30 + "{}]}",
        HEAD + '"boards": [{"placements": [' + "[]," * 30 + "[]]}]}",
        HEAD + '"x": [' + "[]," * 30 + "[]]}",
        HEAD + '"x": [' + '"",' * 60 + '""]}',
        "[" * 60,
    ],
)
def test_more_than_any_plan_holds_is_refused(tmp_path: Path, text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, most in (("_MOST_LISTS", 40), ("_MOST_AT_ONCE", 20), ("_MOST_BOARDS", 20), ("_MOST_TEXTS", 20)):
        monkeypatch.setattr(plan_file, name, most)
    assert told(tmp_path, text) == "this holds more lists and tables than any plan"
