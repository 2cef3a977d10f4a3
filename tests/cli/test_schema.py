"""The JSON Schemas beside samples and profiles are those of the models."""

import json
import re
import tomllib
from typing import Any

import pytest

from cutjob.cli.schema import schema_files, schema_text
from cutjob.files.file_bytes import shipped_files, shipped_folder
from cutjob.job.machine import Machine
from cutjob.job.model import JobFile, StockFile
from cutjob.panels.panel_file import Inventory, PanelFile

MACHINE: dict[str, Any] = json.loads(schema_text(Machine))
JOB: dict[str, Any] = json.loads(schema_text(JobFile))
STOCK: dict[str, Any] = json.loads(schema_text(StockFile))


def test_the_files_are_current() -> None:
    for path, text in schema_files().items():
        assert path.read_text(encoding="utf-8") == text, f"run python -m cutjob.cli.schema: {path} is old"


def test_what_a_job_needs() -> None:
    assert set(JOB["required"]) == {"units", "machine", "make"}  # boards may come from stock
    assert JOB["additionalProperties"] is False
    assert "with" in JOB["$defs"]["Make"]["properties"]
    assert "null" not in json.dumps([JOB, MACHINE])


def _faults(schema: dict[str, Any], value: Any, root: dict[str, Any], path: str) -> list[str]:
    """A small check of the words the schemas use, after JSON Schema 2020-12 (json-schema.org)."""
    if "$ref" in schema:
        return _faults(root["$defs"][schema["$ref"].rsplit("/", 1)[1]], value, root, path)
    if "anyOf" in schema:
        tries = [_faults(choice, value, root, path) for choice in schema["anyOf"]]
        return [] if [] in tries else tries[0]
    faults: list[str] = []
    types = {"object": dict, "array": list, "string": str, "integer": int, "number": (int, float), "boolean": bool}
    if "type" in schema and not isinstance(value, types[schema["type"]]):
        return [f"{path}: not {schema['type']}"]
    if ("enum" in schema and value not in schema["enum"]) or ("const" in schema and value != schema["const"]):
        faults.append(f"{path}: {value!r}")
    if isinstance(value, dict):
        known = schema.get("properties", {})
        faults += [f"{path}.{key}: missing" for key in schema.get("required", ()) if key not in value]
        for key, inner in value.items():
            if key in known:
                faults += _faults(known[key], inner, root, f"{path}.{key}")
            elif schema.get("additionalProperties") is False:
                faults.append(f"{path}.{key}: unknown")
    if isinstance(value, list):
        for index, inner in enumerate(value):
            faults += _faults(schema.get("items", {}), inner, root, f"{path}.{index}")
        if len(value) < schema.get("minItems", 0):
            faults.append(f"{path}: short")
    if isinstance(value, str) and not re.search(schema.get("pattern", ""), value):
        faults.append(f"{path}: pattern")
    if isinstance(value, (int, float)):
        low, over = schema.get("minimum", value), schema.get("exclusiveMinimum", value - 1)
        if value < low or value <= over or value > schema.get("maximum", value):
            faults.append(f"{path}: range")
    return faults


@pytest.mark.parametrize("name", list(shipped_files("machines")))
def test_shipped_profiles_fit_their_schema(name: str) -> None:
    data = tomllib.loads(shipped_files("machines")[name].read_text(encoding="utf-8"))
    assert _faults(MACHINE, data, MACHINE, name) == []


def test_the_schema_refuses_what_the_models_refuse() -> None:
    data = tomllib.loads(shipped_files("machines")["bench-router"].read_text(encoding="utf-8"))
    data["kind"] = "ruter"
    data["travels"] = data.pop("travel")
    data["motion"]["rapid"] = 0
    del data["cutter"][0]["name"]
    assert len(_faults(MACHINE, data, MACHINE, "")) == 4


def test_shipped_samples_fit_their_schema() -> None:
    for name, path in shipped_files("samples").items():
        data = tomllib.loads(path.read_text(encoding="utf-8"))
        if "make" in data:  # design files may lie beside the jobs
            assert _faults(JOB, data, JOB, name) == []


def test_the_panels_of_the_samples_fit_their_schemas() -> None:
    folder = shipped_folder("samples") / "panels"
    for path in folder.glob("*.toml"):
        data = tomllib.loads(path.read_text(encoding="utf-8"))
        schema = json.loads(schema_text(Inventory if "piece" in data else PanelFile))
        assert _faults(schema, data, schema, path.name) == []
        data["units"] = "ft"
        assert len(_faults(schema, data, schema, path.name)) == 1


def test_the_shed_of_the_samples_is_a_file_of_stock() -> None:
    shed = tomllib.loads((shipped_folder("samples") / "stock" / "shed.toml").read_text(encoding="utf-8"))
    assert _faults(STOCK, shed, STOCK, "shed") == []
    assert STOCK["required"] == ["units"]
    shed["board"][0]["taken"] = [{"by": "Gulls (gull.toml)"}]
    assert _faults(STOCK, shed, STOCK, "shed") == ["shed.board.0.taken.0.count: missing"]
