"""The JSON Schemas of the files a user writes, made from the models that read them.

`python -m cutjob.cli.schema` writes all into a checkout, beside the samples and the profiles.
"""

from __future__ import annotations

import json
from pathlib import Path

from cutjob.days.notes import NotesFile
from cutjob.days.orders import OrdersFile
from cutjob.designs.own.model import DesignFile
from cutjob.files.fields import FileModel, plain_schema
from cutjob.files.file_bytes import shipped_folder
from cutjob.job.machine import Machine
from cutjob.job.model import JobFile, StockFile
from cutjob.job.shop import ShopFile
from cutjob.panels.panel_file import Inventory, PanelFile

_DIALECT = "https://json-schema.org/draft/2020-12/schema"  # the dialect pydantic writes


def schema_text(model: type[FileModel]) -> str:
    """Return a model's JSON Schema as text, the same on every run."""
    schema = {"$schema": _DIALECT, **plain_schema(model)}
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def schema_files() -> dict[Path, str]:
    """Return what the schema files must hold, by path."""
    return {
        shipped_folder("machines") / "machine.schema.json": schema_text(Machine),
        shipped_folder("samples") / "job.schema.json": schema_text(JobFile),
        shipped_folder("samples") / "shop" / "notes.schema.json": schema_text(NotesFile),
        shipped_folder("samples") / "shop" / "orders.schema.json": schema_text(OrdersFile),
        shipped_folder("samples") / "shop" / "shop.schema.json": schema_text(ShopFile),
        shipped_folder("samples") / "stock" / "stock.schema.json": schema_text(StockFile),
        shipped_folder("samples") / "panels" / "panel.schema.json": schema_text(PanelFile),
        shipped_folder("samples") / "panels" / "inventory.schema.json": schema_text(Inventory),
        shipped_folder("samples") / "designs" / "design.schema.json": schema_text(DesignFile),
    }


def main() -> None:
    """Write all files."""
    for path, text in schema_files().items():
        path.write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
