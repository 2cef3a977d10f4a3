"""Look for input that a reader answers wrongly, led by what its code has not run yet.

    python -m tests.hostile.fuzz READER --seconds 60 [--seed N] [--keep FOLDER]

READER is one of job, profile, stock, svg, dxf, program, planned, plan. It needs the extra `fuzz`. A finding is whatever
is neither an answer nor an InputError, and what takes longer than 10 s; the input is kept in FOLDER (default: a new one
below the system's for temporary files). Input that was found once becomes a case of `tests.hostile`.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

_LONGEST = 10  # seconds for one input
_SPOILED = 20  # seeds of each good file to begin with
# Words that a file of each kind is made of, for the fuzzer to put in.
_WORDS = {
    "toml": ("[[make]]", "[[board]]", "[make.with]", "outline", "nan", "inf", "1e308", '"""', "'''", "true"),
    "design": ("[[part]]", "[parameter.", "[series.", "path = [", "pins", "repeat", "round", "when", "**", "(i + 1)",
               "graded(", "choose(", "1 1/2 in", "{ to = ", "mirror", "slot", "polygon", "counterbore", "nan"),
    "svg": ("<path d='", "<use href='#", "<g transform='", "matrix(", "style='", "<!ENTITY", "viewBox", "1e308"),
    "dxf": ("0\nLINE\n", "0\nSPLINE\n", "0\nINSERT\n", "0\nBLOCK\n", "0\nENDSEC\n", "0\nELLIPSE\n", "42\n", "nan"),
    "program": ("G2", "G3", "G81", "G83", "R", "#1=", "[", "SIN[", "ATAN[1]/[2]", "(", "%", "G91.1", "G10", "N1", "/"),
    "plan": ('"boards"', '"programs"', '"placements"', "null", "[]", "{}", "1e999", "NaN", "-1", "true"),
}  # fmt: skip
_KINDS = {
    "panel": "toml",
    "inventory": "toml",
    "job": "toml",
    "profile": "toml",
    "stock": "toml",
    "shop": "toml",
    "planned": "program",
}

_NAMES = ("job", "profile", "stock", "shop", "design", "panel", "inventory", "svg", "dxf", "program", "planned", "plan")


def run(reader: str, *, seconds: int, seed: int, keep: Path) -> None:
    """Fuzz a reader; ends the process."""
    import atheris

    # What is imported before this is not followed; compiled loops would not compile with what following adds to them.
    with atheris.instrument_imports(include=["cutjob", "tomllib", "ezdxf", "simpleeval"], exclude=_compiled()):
        from cutjob.errors import CutjobError
        from tests.hostile.mutate import good_files, spoiled
        from tests.hostile.readers import READERS

    read, folder = READERS[reader], Path(tempfile.mkdtemp(prefix="fuzz-"))

    def one(data: bytes) -> None:
        try:
            read(data, folder)
        except CutjobError as error:
            lines = str(error).split("\n")
            if len(lines) != len(error.problems) or not all(lines):
                raise RuntimeError(f"not one line to a mistake: {lines}") from error

    corpus = keep / "corpus"
    corpus.mkdir(parents=True, exist_ok=True)
    for good in good_files():
        if good.kind == reader:
            (corpus / good.name).write_bytes(good.data)
            for number in range(_SPOILED):
                (corpus / f"{good.name}-{number}").write_bytes(spoiled(good.data, number))
    words = keep / "words"
    lines = [word.encode("unicode_escape").decode().replace('"', '\\"') for word in _WORDS[_KINDS.get(reader, reader)]]
    words.write_text("".join(f'"{line}"\n'.replace("\\n", "\\x0a") for line in lines), encoding="ascii")
    options = [
        sys.argv[0], str(corpus), f"-max_total_time={seconds}", f"-seed={seed}", f"-timeout={_LONGEST}",
        f"-artifact_prefix={keep}/", f"-dict={words}", "-rss_limit_mb=2000", "-max_len=20000", "-print_final_stats=1",
    ]  # fmt: skip
    atheris.Setup(options, one)
    atheris.Fuzz()


def _compiled() -> list[str]:
    """The names of the modules that numba compiles."""
    package = Path(__file__).parents[2] / "cutjob"
    return [
        ".".join(path.relative_to(package.parent).with_suffix("").parts)
        for path in package.rglob("*.py")
        if "cutjob.compiled" in path.read_text(encoding="utf-8") or path.name == "compiled.py"
    ]


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description="Fuzz a reader.")
    parser.add_argument("reader", choices=_NAMES)
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path)
    given = parser.parse_args()
    keep = given.keep or Path(tempfile.mkdtemp(prefix="found-"))
    print(f"what is found is kept in {keep}", flush=True)
    run(given.reader, seconds=given.seconds, seed=given.seed, keep=keep)


if __name__ == "__main__":
    main()
