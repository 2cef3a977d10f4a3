"""The commands: the only place that prints and sets exit codes.

Exit 0: done. Exit 1: a proof or a check failed (or cutjob itself did: nothing it made is to be trusted). Exit 2: the
input is wrong. Anything heavy is imported inside the commands, so that `cutjob --help` answers at once.
"""

from __future__ import annotations

import json
import math
import os
import sys
import traceback
from collections.abc import Iterator, Sequence
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

import click

from cutjob import __version__
from cutjob.cli.progress import one_line, progress_line
from cutjob.errors import CutjobError, Problem
from cutjob.stages import KINDS, Effort

if TYPE_CHECKING:
    from cutjob.proof.finding import ProofReport
    from cutjob.result import JobResult
    from cutjob.units import Unit

_LONGEST_SEARCH = 7 * 24 * 3600.0
_MOST_TOLD = 50  # mistakes
_LONGEST_TOLD = 800  # letters; the longest messages list all that is known instead
_MOST_SHOWN = 60  # findings; more than these nobody reads
_STOPPED = 130  # what a shell reports for a program stopped from the keyboard


class _Commands(click.Group):
    """A group whose errors come as one line each, without a traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except CutjobError as error:
            for line in _told(error.problems):
                click.echo(line, err=True)
            ctx.exit(error.exit_code)
        except KeyboardInterrupt:
            click.echo("stopped", err=True)
            ctx.exit(_STOPPED)
        except (click.ClickException, click.exceptions.Exit, click.Abort, BrokenPipeError):
            raise
        except Exception as error:
            _report_fault(error)
            ctx.exit(1)


def _told(problems: Sequence[Problem]) -> Iterator[str]:
    """Yield each problem on one line, of an endless number the first: a file of noise has thousands of mistakes."""
    lines = list(dict.fromkeys(one_line(str(problem)) for problem in problems))
    for line in lines[:_MOST_TOLD]:
        yield line if len(line) <= _LONGEST_TOLD else f"{line[: _LONGEST_TOLD - 3]}..."
    if len(lines) > _MOST_TOLD:
        yield f"and {len(lines) - _MOST_TOLD} more mistakes; mend these first"


def _report_fault(error: Exception) -> None:
    if os.environ.get("CUTJOB_DEBUG") == "1":
        traceback.print_exception(error)
    said = " ".join(str(error).split())[:200]
    click.echo(
        f"cutjob itself failed ({type(error).__name__}: {said}); nothing it wrote in this run is to be used. Please "
        "report this line with the job file; with CUTJOB_DEBUG=1 in the environment it says where it happened",
        err=True,
    )


class _MakeCommand(click.Command):
    """Lets one `--only` take several kinds."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        return super().parse_args(ctx, spread_only(args))


def spread_only(arguments: list[str]) -> list[str]:
    """Return the arguments with `--only gcode dxf` and `--only gcode,dxf` written as `--only gcode --only dxf`."""
    words, spread = list(arguments), []
    while words:
        word = words.pop(0)
        values = [word.removeprefix("--only=")] if word.startswith("--only=") else []
        if word == "--only" and words:
            values.append(words.pop(0))
            while words and all(kind in KINDS for kind in words[0].split(",")):
                values.append(words.pop(0))
        if not values:
            spread.append(word)
        for kind in ",".join(values).split(",") if values else []:
            spread += ["--only", kind]
    return spread


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="cutjob")
def main() -> None:
    """From designs of small wooden goods to proven cutting files.

    Exit codes: 0 done, 1 a proof or a check failed, 2 the input is wrong.
    """


@main.command(cls=_MakeCommand)
@click.argument("job", type=click.Path(path_type=Path))
@click.option("-o", "--out", metavar="DIR", type=click.Path(path_type=Path), help="Output folder; default out/<job>.")
@click.option(
    "--seed", type=click.IntRange(0, 2**32 - 1), default=0, show_default=True, help="Of the layout's choices."
)
@click.option(
    "--effort",
    type=click.Choice(get_args(Effort)),
    help="How long to search for the layout: about a second, ten seconds or a minute; default normal. The same seed "
    "and effort give the same layout on any machine.",
)
@click.option(
    "--seconds",
    type=click.FloatRange(0, _LONGEST_SEARCH, min_open=True),
    help="Search for the layout so long instead of an effort: the clock decides, and the layout may differ next time.",
)
@click.option("--only", multiple=True, type=click.Choice(KINDS), help="Write these kinds of file only, and plan.json.")
@click.option("--png", is_flag=True, help="Write each board's picture as PNG as well as SVG.")
@click.option(
    "--keep-offcuts",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Put what is left of the boards in this file of stock, and mark the boards taken from it.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the summary as data.")
def make(
    job: Path,
    out: Path | None,
    seed: int,
    effort: Effort | None,
    seconds: float | None,
    only: tuple[str, ...],
    png: bool,
    keep_offcuts: Path | None,
    as_json: bool,
) -> None:
    """Make the files of JOB, and prove them.

    Cutting files, drawings, pictures, what is left of the boards and plan.json go to the output folder, all or none.
    Ctrl-C while a layout is searched for keeps the best one so far and goes on; twice, or later, it ends at once.
    """
    if effort is not None and seconds is not None:
        raise click.UsageError("--effort and --seconds both say how long to search for the layout: give one of them")
    if seconds is not None and not math.isfinite(seconds):
        raise click.BadParameter("this is no number of seconds", param_hint="--seconds")
    from cutjob.cli.summary import summary_data
    from cutjob.making import make_job
    from cutjob.reports.plan.plan import proof_data

    with progress_line(shown=sys.stderr.isatty() and not as_json) as line:
        result = make_job(
            job,
            out=out,
            seed=seed,
            effort=effort or "normal",
            seconds=seconds,
            only=frozenset(only) if only else None,
            png=png,
            keep_offcuts=keep_offcuts,
            cores=os.cpu_count() or 1,
            progress=line.stage,
            watch=line,
        )
    if as_json:
        summary = {
            "folder": str(result.folder),
            **summary_data(result.job, result.plan),
            "proof": proof_data(result.proof),
            "refused": None if result.refused is None else str(result.refused),
            "seconds": {stage: round(seconds, 3) for stage, seconds in result.seconds.items()},
        }
        click.echo(json.dumps(summary, indent=2, ensure_ascii=False))
    else:
        _print_summary(result.folder, result.job, result.proof, rings=result.rings, refused=result.refused)
        if keep_offcuts is not None and result.proof.passed:
            click.echo(one_line(f"leftovers kept in {keep_offcuts}"))
    if not result.proof.passed:
        raise click.exceptions.Exit(1)


@main.command()
@click.argument("files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--machine",
    metavar="PROFILE",
    help="Name of a shipped profile, or path of a profile; with --plan by default the shipped one the plan names.",
)
@click.option("--plan", type=click.Path(path_type=Path), help="The plan.json the files belong to.")
@click.option(
    "--picture",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="With --plan: an SVG to draw the board in, with what the file does and every place found ringed.",
)
@click.option("--thickness", metavar="LENGTH", help="Without --plan: how thick the stock is, a stack as a whole.")
@click.option("--material", help="Without --plan: what the stock is, for the feed table.")
@click.option("--cutter", type=click.IntRange(1, 99), help="Without --plan: the number of the cutter in the machine.")
@click.option("--json", "as_json", is_flag=True, help="Print the findings as data.")
def check(
    files: tuple[Path, ...],
    machine: str | None,
    plan: Path | None,
    picture: Path | None,
    thickness: str | None,
    material: str | None,
    cutter: int | None,
    as_json: bool,
) -> None:
    """Prove G-code files, from here or from elsewhere.

    They are read back and judged for the machine and, with a plan, against the parts they are to cut. Of a board that
    takes several files one is enough: the others are looked for beside it and beside the plan. A DXF file, and
    patterns.pdf, are compared with the parts of their plan.
    """
    from cutjob.checking import check_files
    from cutjob.cli.summary import verdict
    from cutjob.reports.plan.plan import proof_data

    result = check_files(
        files, machine=machine, plan=plan, picture=picture, thickness=thickness, material=material, cutter=cutter
    )
    report = result.report
    if as_json:
        found = {
            "file": str(files[0]),
            "files": list(result.files),
            **proof_data(report),
            "not_judged": list(result.not_judged),
        }
        click.echo(json.dumps(found, indent=2, ensure_ascii=False))
    else:
        _print_findings(report, result.rings, result.units)
        if picture is not None:
            click.echo(one_line(f"picture: {picture}"))
        if result.not_judged:
            click.echo(one_line(f"not judged: {'; '.join(result.not_judged)}"))
        click.echo(one_line(f"{', '.join(result.files)}: {verdict(report)}"))
    if not report.passed:
        raise click.exceptions.Exit(1)


@main.command(name="list")
@click.argument("what", type=click.Choice(["designs", "machines", "materials"]))
def list_(what: str) -> None:
    """List what is there.

    The designs with their sizes and parameters, the shipped machine profiles, or the materials these have feeds for.
    """
    if what == "designs":
        _list_designs()
    else:
        _print_columns({"machines": _machines, "materials": _materials}[what]())


@main.command()
@click.argument("design")
def new(design: str) -> None:
    """Print a first job file for DESIGN, by its name or the path of a design file; "panel" prints a panel's file.

    Every line has its comment: cutjob new DESIGN > job.toml
    """
    if design == "panel":
        from cutjob.panels.make_panel import new_panel

        click.echo(new_panel(), nl=False)
        return
    from cutjob.designs.new_job import new_job
    from cutjob.designs.own.find_design import find_design

    click.echo(new_job(find_design(design, folder=Path())), nl=False)


def _list_designs() -> None:
    """Print each design with a line of what it makes and its parameters; one that can't be loaded is told as such."""
    from cutjob.designs.catalogue import CATALOGUE
    from cutjob.designs.own.find_design import design_lines
    from cutjob.designs.own.python_design import installed_names, load_installed

    for design in CATALOGUE.values():
        for line in design_lines(design):
            click.echo(line)
    for name in installed_names():
        if name in CATALOGUE:
            continue
        try:
            for line in design_lines(load_installed(name)):
                click.echo(one_line(line))
        except CutjobError as error:
            for problem in error.problems:
                click.echo(one_line(str(problem)), err=True)


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("-o", "--out", metavar="DIR", type=click.Path(path_type=Path), help="Output folder; default out/<file>.")
@click.option(
    "--seed",
    type=click.IntRange(0, 2**32 - 1),
    help="Of the panel's look; default: a few are tried, the best is shown.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the plan as data.")
def panel(file: Path, out: Path | None, seed: int | None, as_json: bool) -> None:
    """Fill the framed panel of FILE with end cuts from an inventory.

    Its picture, the cut lists of frame, backing and pieces, and the numbered assembly plan go to the output folder.
    """
    from cutjob.panels.make_panel import make_panel

    result = make_panel(file, out=out, seed=seed)
    if as_json:
        data = {"folder": str(result.folder), "summary": result.summary, **result.plan}
        click.echo(json.dumps(data, indent=2, ensure_ascii=False))
        return
    for line in (*result.summary, f"written to {result.folder}"):
        click.echo(one_line(line))


def _machines() -> list[tuple[str, ...]]:
    from cutjob.files.file_bytes import shipped_files
    from cutjob.job.read_machine import read_machine

    profiles = {name: read_machine(name, beside=None) for name in shipped_files("machines")}
    return [(name, machine.kind, machine.summary) for name, machine in profiles.items()]


def _materials() -> list[tuple[str, ...]]:
    from cutjob.files.file_bytes import shipped_files
    from cutjob.job.read_machine import read_machine

    by_material: dict[str, list[str]] = {}
    for name in shipped_files("machines"):
        for material in read_machine(name, beside=None).materials:
            by_material.setdefault(material, []).append(name)
    return [(material, ", ".join(names)) for material, names in by_material.items()]


def _print_columns(rows: list[tuple[str, ...]]) -> None:
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))] if rows else []
    for row in rows:
        click.echo("  ".join(word.ljust(width) for word, width in zip(row, widths, strict=True)).rstrip())


def _print_table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> None:
    """Print a table with lines on a terminal, plain columns where the output is piped, nothing without rows.

    Columns of which nothing is known are left out.
    """
    kept = [column for column in range(len(head)) if any(row[column] for row in rows)]
    words = [tuple(one_line(row[column]) for column in kept) for row in rows]
    head = tuple(head[column] for column in kept)
    if words and sys.stdout.isatty():
        from rich.console import Console
        from rich.table import Table
        from rich.text import Text

        table = Table(*head)
        for row in words:
            # As Text, since square brackets in a plain string would be read as commands for the letters' look.
            table.add_row(*(Text(word) for word in row))
        Console().print(table)
    elif words:
        _print_columns([head, *words])


def _print_findings(
    report: ProofReport, rings: Sequence[int | None], units: Unit, *, errors_aside: bool = False
) -> None:
    """Print findings, each in one line with its place in `units` and the number of its ring; not more than can be read.

    `errors_aside` sends errors to standard error.
    """
    told = list(zip_longest(report.findings, rings))
    for finding, ring in told[:_MOST_SHOWN]:
        where = "" if ring is None else f" (ring {ring})"
        words = f"{finding.severity}: {finding.words(units)}{where}"
        click.echo(one_line(words), err=errors_aside and finding.severity == "error")
    if len(told) > _MOST_SHOWN:
        click.echo(f"and {len(told) - _MOST_SHOWN} more findings; --json lists them all")


def _print_summary(
    folder: Path,
    job: JobResult,
    report: ProofReport,
    *,
    rings: Sequence[int | None] = (),
    refused: Path | None = None,
) -> None:
    from cutjob.cli.summary import (
        HEAD,
        cost_lines,
        hand_work,
        layout_lines,
        leftover_lines,
        summary_rows,
        verdict,
    )
    from cutjob.reports.words import item_table

    _print_table(HEAD, list(summary_rows(job)))
    _print_table(*item_table(job))
    for line in (*layout_lines(job), *cost_lines(job), *hand_work(job), *leftover_lines(job)):
        click.echo(one_line(line))
    for warning in job.warnings:
        click.echo(one_line(f"warning: {warning}"))
    for caution in job.cautions:
        click.echo(one_line(f"caution: {caution.full}"))
    _print_findings(report, rings, job.units, errors_aside=True)
    click.echo(f"proof: {verdict(report)}")
    click.echo(one_line(f"written to {folder}" if report.passed else f"nothing was written to {folder}"))
    if refused is not None:
        click.echo(one_line(f"pictures of what was found, each place ringed, are in {refused}"))
