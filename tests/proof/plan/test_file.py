"""The plan as the check of one file reads it, against json.loads of the whole."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.errors import InputError
from cutjob.proof.plan import file as plan_brackets
from cutjob.proof.plan import file as plan_file
from cutjob.proof.plan.file import read_plan

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


def kept(boards: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """What must be left of boards when `a.nc` is looked for: the first that names it, of the others their files."""
    names = [[one["file"] for one in board.get("programs", [])] for board in boards]
    first = next((number for number, own in enumerate(names) if "a.nc" in own), None)
    return [
        board if number == first or "programs" not in board else {"programs": [{"file": name} for name in own]}
        for number, (board, own) in enumerate(zip(boards, names, strict=True))
    ]


@given(plans, st.sampled_from([None, 1, "\t"]), st.booleans())
@settings(max_examples=150)
def test_the_file_s_board_is_as_in_the_file_and_all_else_too(
    tmp_path_factory: pytest.TempPathFactory, parts: Any, indent: Any, plain: bool
) -> None:
    path = tmp_path_factory.getbasetemp() / "plan.json"
    whole = plan(parts)
    path.write_text(json.dumps(whole, indent=indent, ensure_ascii=plain), encoding="utf-8")
    read = read_plan(path, "a.nc")
    assert read == {**whole, "boards": kept(whole["boards"])}
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


@pytest.mark.parametrize("piece", [1, 2, 3, 7])
def test_it_is_the_same_in_pieces(tmp_path: Path, piece: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plan_brackets, "_PIECE", piece)
    monkeypatch.setattr(plan_file, "_PIECE", piece)
    texts = ["\\", '"', '\\"', "]}", 'x"boards":', "é"]
    board = {"id": texts, "programs": [{"file": "a.nc", "x": [[]]}], **{text: [text] for text in texts}}
    whole = {"schema": "cutjob-plan/1", **dict.fromkeys(texts, texts), "boards": [board, {"a": 1}], "z": {"b": []}}
    path = tmp_path / "plan.json"
    for plain in (False, True):
        path.write_text(json.dumps(whole, ensure_ascii=plain), encoding="utf-8")
        assert read_plan(path, "a.nc") == whole


def test_a_key_within_a_text_is_none(tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    whole = {"schema": "cutjob-plan/1", "boards": [{"a": 1}], 'a"boards': [3], "x": {'"boards"': [4]}}
    path.write_text(json.dumps(whole), encoding="utf-8")
    assert read_plan(path, "a.nc") == whole


def test_a_plan_s_ten_thousand_discs_are_read(tmp_path: Path) -> None:
    """As many lists as ten thousand discs with holes have, on boards of twenty."""
    ring = [[round(99.5 + 90 * math.cos(k / 40), 6), round(99.5 + 90 * math.sin(k / 40), 6)] for k in range(250)]
    places = [{"part": "disc", "outline": ring, "holes": [ring], "features": []}] * 20
    path = tmp_path / "plan.json"
    made = [{"id": f"board-{n}", "placements": places, "programs": [{"file": f"board-{n}.nc"}]} for n in range(500)]
    with path.open("w", encoding="utf-8") as file:
        file.write(HEAD + '"boards": [' + json.dumps(made[0]))
        file.writelines(", " + json.dumps(board) for board in made[1:])
        file.write("]}")
    assert path.stat().st_size > 100_000_000
    read = read_plan(path, "board-400.nc")
    assert read["boards"][400] == made[400]
    assert read["boards"][401] == {"programs": [{"file": "board-401.nc"}]}


def test_a_board_may_have_so_many_lists_for_each_part(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plan_file, "_MOST_LISTS", 60)
    monkeypatch.setattr(plan_file, "_MOST_PER_PART", 10)
    board = {"placements": [{"outline": [[1, 2]] * 9}] * 20, "programs": [{"file": "a.nc"}]}
    path = tmp_path / "plan.json"
    path.write_text(json.dumps({"schema": "cutjob-plan/1", "boards": [board]}), encoding="utf-8")
    assert read_plan(path, "a.nc")["boards"] == [board]
    board["placements"] = [{"outline": [[1, 2]] * 900}] * 20
    assert told(tmp_path, HEAD + '"boards": [' + json.dumps(board) + "]}").startswith("the file holds more")
    # Of another file's board nothing is read that could be too much.
    board["programs"] = [{"file": "b.nc"}]
    path.write_text(json.dumps({"schema": "cutjob-plan/1", "boards": [board]}), encoding="utf-8")
    assert read_plan(path, "a.nc")["boards"] == [{"programs": [{"file": "b.nc"}]}]


@pytest.mark.parametrize(
    "text",
    [
        HEAD + '"boards": [' + "{}," * 30 + "{}]}",
        HEAD + '"boards": [{"placements": [' + "[]," * 30 + "[]]}]}",
        HEAD + '"x": [' + "[]," * 30 + "[]]}",
        HEAD + '"x": [' + '"",' * 60 + '""]}',
        HEAD + ", ".join(f'"x{n}": []' for n in range(30)) + "}",
    ],
)
def test_more_than_any_plan_holds_is_refused(tmp_path: Path, text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, most in (("_MOST_LISTS", 20), ("_MOST_BOARDS", 20), ("_MOST_KEYS", 20)):
        monkeypatch.setattr(plan_file, name, most)
    assert told(tmp_path, text) == "the file holds more lists and tables than any plan"


@pytest.mark.parametrize("name", ["_MOST_KEPT", "_MOST_MARKS"])
def test_more_brackets_than_any_plan_has_are_refused(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(plan_brackets, name, 20)
    assert told(tmp_path, HEAD + '"x": [' + "[]," * 30 + "[]]}") == "the file holds more lists and tables than any plan"


def test_a_file_too_large_is_not_asked_for_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plan_file, "_LARGEST", 2_000_000)
    path = tmp_path / "plan.json"
    path.write_text(HEAD + '"x": 1}' + " " * 2_000_000, encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_plan(path, "a.nc")
    (problem,) = error.value.problems
    assert problem.message == "the file is larger than 2 MB"
    assert "give" not in problem.advice
