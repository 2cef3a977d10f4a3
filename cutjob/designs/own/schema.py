"""The JSON Schema of design files, made from the model that reads them.

`python -m cutjob.designs.own.schema` writes it into a checkout, beside the samples' design files.
"""

from __future__ import annotations

from pathlib import Path

from cutjob.designs.own.model import DesignFile
from cutjob.job.schema import schema_text
from cutjob.job.shipped import shipped_folder


def design_schema() -> tuple[Path, str]:
    """Return the path of the schema file and what it must hold."""
    return shipped_folder("samples") / "designs" / "design.schema.json", schema_text(DesignFile)


def main() -> None:
    """Write the file."""
    path, text = design_schema()
    path.write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
