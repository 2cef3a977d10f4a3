"""The commands: the only place that prints and sets exit codes.

Exit 0: done. Exit 1: a proof or a check failed, or cutjob itself failed: trust nothing it made. Exit 2: the input is
wrong. Anything heavy is imported inside the commands, so that `cutjob --help` answers at once.
"""

from __future__ import annotations

import gc
import io
import json
import math
import os
import re
import shutil
import sys
import textwrap
import traceback
from collections.abc import Iterator, Sequence
from datetime import date
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

import click

from cutjob import __version__
from cutjob.cli.progress import one_line, progress_line
from cutjob.counting import counted
from cutjob.errors import CutjobError, Problem
from cutjob.stages import KINDS, Effort

if TYPE_CHECKING:
    from cutjob.days.make_dates import Dates
    from cutjob.making import MakeResult
    from cutjob.proof.finding import Finding, ProofReport
    from cutjob.reports.money import Variant
    from cutjob.result import JobResult
    from cutjob.units import Unit

_LONGEST_SEARCH = 7 * 24 * 3600.0
_MOST_MISTAKES = 50
_LONGEST_LINE = 800  # letters; the longest messages list all names that could be meant
_MOST_FINDINGS = 60  # nobody reads more
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_MONEY_WIDTH = 130  # letters of a table of costs or prices
_STOPPED = 130  # what a shell reports for a program stopped from the keyboard
_COLLECT_AFTER = 200_000  # new objects before Python looks for garbage


class _Commands(click.Group):
    """A group whose errors come as one line each, without a traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except CutjobError as error:
            for line in _mistake_lines(error.problems):
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


def _mistake_lines(problems: Sequence[Problem]) -> Iterator[str]:
    """Yield each problem once on a line, but only the first fifty: a file of noise has thousands of mistakes."""
    lines = list(dict.fromkeys(one_line(str(problem)) for problem in problems))
    for line in lines[:_MOST_MISTAKES]:
        yield line if len(line) <= _LONGEST_LINE else f"{line[: _LONGEST_LINE - 3]}..."
    if len(lines) > _MOST_MISTAKES:
        yield f"and {counted(len(lines) - _MOST_MISTAKES, 'more mistake')}; fix these first"


def _report_fault(error: Exception) -> None:
    if os.environ.get("CUTJOB_DEBUG") == "1":
        traceback.print_exception(error)
    said = " ".join(str(error).split())[:200]
    click.echo(
        f"cutjob itself failed ({type(error).__name__}: {said}); use nothing it wrote in this run. Please report this "
        "line with the job file; set CUTJOB_DEBUG=1 in the environment to see where it happened",
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


def _examples(*commands: str) -> str:
    """The end of a help text; the first letter keeps its lines as they are."""
    return "\b\nExamples:\n" + "\n".join(f"  {command}" for command in commands)


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="cutjob")
def main() -> None:
    """From designs of small wooden goods to proven cutting files.

    Start with `cutjob new graded-stack > job.toml`, then `cutjob make job.toml`.

    Exit codes: 0 done, 1 a proof or a check failed, 2 the input is wrong.
    """


@main.command(
    cls=_MakeCommand,
    epilog=_examples(
        "cutjob make spring.toml --effort quick", "cutjob make spring.toml --only gcode sheet -o out/first"
    ),
)
@click.argument("job", type=click.Path(path_type=Path))
@click.option("-o", "--out", metavar="DIR", type=click.Path(path_type=Path), help="Output folder; default out/<job>.")
@click.option(
    "--seed", type=click.IntRange(0, 2**32 - 1), default=0, help="Another number gives another layout; default 0."
)
@click.option(
    "--effort",
    type=click.Choice(get_args(Effort)),
    help="How long to search for the layout: about a second, ten seconds or a minute; default normal.",
)
@click.option(
    "--seconds",
    type=click.FloatRange(0, _LONGEST_SEARCH, min_open=True),
    help="Search this long instead of --effort; the layout may then differ from run to run.",
)
@click.option("--only", multiple=True, type=click.Choice(KINDS), help="Write these kinds of file only, and plan.json.")
@click.option("--png", is_flag=True, help="Write the pictures of boards and finished items as PNG as well as SVG.")
@click.option(
    "--keep-offcuts",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Put the offcuts worth keeping in this file of stock, and mark the boards taken from it.",
)
@click.option(
    "--cluster",
    "address",
    metavar="ADDRESS",
    help="Share the work among the computers of a running Dask cluster, such as tcp://192.168.1.20:8786. Only in a "
    "network you trust: a cluster runs whatever it is sent.",
)
@click.option("--verbose", is_flag=True, help="Print everything: every saw cut, hole, cost, warning and caution.")
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
    address: str | None,
    verbose: bool,
    as_json: bool,
) -> None:
    """Make the files of JOB, and prove them.

    Cutting files, drawings, pictures, the job sheet, offcuts and plan.json go to the output folder, all or none.
    Ctrl-C during the search for a layout keeps the best one so far and goes on; twice, or later, it ends at once.
    """
    if effort is not None and seconds is not None:
        raise click.UsageError("--effort and --seconds both say how long to search for the layout: give one of them")
    if seconds is not None and not math.isfinite(seconds):
        raise click.BadParameter("this is not a number of seconds", param_hint="--seconds")
    # Modules and plans are some hundred thousand values without cycles: looking for garbage among them finds none.
    gc.set_threshold(_COLLECT_AFTER)
    from cutjob.cli.summary import summary_data
    from cutjob.cluster import cluster
    from cutjob.compiling import help_with
    from cutjob.making import make_job
    from cutjob.program.prepare import is_prepared
    from cutjob.reports.plan.plan import proof_data

    with progress_line(shown=sys.stderr.isatty() and not as_json) as line, cluster(address) as executor:
        if (os.cpu_count() or 1) > 1 and not is_prepared():
            help_with("cutjob.program.prepare")
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
            executor=executor,
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
        if verbose:
            _print_details(result.job)
        _print_summary(result)
        if keep_offcuts is not None and result.proof.passed:
            click.echo(one_line(f"offcuts  {keep_offcuts}"))
    if not result.proof.passed:
        raise click.exceptions.Exit(1)


@main.command("open", epilog=_examples("cutjob open spring.toml", "cutjob open --share"))
@click.argument("job", required=False, type=click.Path(path_type=Path))
@click.option("--port", type=click.IntRange(1, 65535), help="Port of the page; default the first free one from 8730.")
@click.option("--no-browser", is_flag=True, help="Only print the address.")
@click.option(
    "--share",
    is_flag=True,
    help="Also serve the page in the home network, for reading only, at an address with a token.",
)
@click.option("-o", "--out", metavar="DIR", type=click.Path(path_type=Path), help="Output folder; default out/<job>.")
@click.option("--effort", type=click.Choice(get_args(Effort)), default="normal", help="As for make; default normal.")
def open_(job: Path | None, port: int | None, no_browser: bool, share: bool, out: Path | None, effort: Effort) -> None:
    """Open the job sheet of JOB as a page on this computer, with every line open to change.

    What is changed is written to the file, and the rest follows. Without JOB, begin one from a design. Ctrl-C ends it.
    """
    from cutjob.live.open_page import Addresses, open_page

    def opened(addresses: Addresses) -> None:
        click.echo(f"the job sheet is at {addresses.here} - Ctrl-C ends it")
        if addresses.shared is not None:
            click.echo(f"to read in the home network: {addresses.shared}")

    open_page(job, port=port, browser=not no_browser, share=share, out=out, effort=effort, opened=opened)


@main.command(
    epilog=_examples(
        "cutjob check out/spring/board-01.nc --plan out/spring/plan.json",
        "cutjob check sign.nc --machine bench-router --thickness 12mm --picture sign.svg",
    )
)
@click.argument("files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--machine",
    metavar="PROFILE",
    help="Name of a shipped profile, or path of a profile; default with --plan: the shipped profile the plan names.",
)
@click.option("--plan", type=click.Path(path_type=Path), help="The plan.json the files belong to.")
@click.option(
    "--picture",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write an SVG of the board: what the file does, with a ring round every place found.",
)
@click.option("--thickness", metavar="LENGTH", help="Without --plan: thickness of the stock, or of the whole stack.")
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
    """Prove G-code files, made by cutjob or by anything else.

    The files are read back and judged for the machine and, with a plan, against the parts they are to cut. Where a
    board takes several files, name one: the others are looked for beside it and beside the plan. A DXF file,
    patterns.pdf and booklet.pdf are compared with the parts of their plan.
    """
    from cutjob.checking import check_files
    from cutjob.cli.details import cuts_words
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
            "cuts": [
                {"file": one.file, "box": one.box, "depth": one.depth, "seconds": one.seconds} for one in result.cuts
            ],
            **proof_data(report),
            "not_judged": list(result.not_judged),
        }
        click.echo(json.dumps(found, indent=2, ensure_ascii=False))
    else:
        for cuts in result.cuts:
            click.echo(one_line(cuts_words(cuts, result.units)))
        _print_findings(report, result.rings, result.units)
        if picture is not None:
            click.echo(one_line(f"picture: {picture}"))
        if result.not_judged:
            click.echo(one_line(f"not judged: {'; '.join(result.not_judged)}"))
        click.echo(one_line(f"{', '.join(result.files)}: {verdict(report)}"))
    if not report.passed:
        raise click.exceptions.Exit(1)


@main.command(
    epilog=_examples(
        "cutjob price spring.toml", "cutjob price spring.toml --explain", "cutjob price spring.toml --what-if"
    )
)
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--shop", metavar="FILE", type=click.Path(path_type=Path), help="Shop file to use instead of the job's.")
@click.option("--effort", type=click.Choice(get_args(Effort)), default="quick", help="As for make; default quick.")
@click.option("--seed", type=click.IntRange(0, 2**32 - 1), default=0, help="As for make; default 0.")
@click.option("--explain", is_flag=True, help="Print the chain from every price back to what was entered.")
@click.option("--what-if", "what_if", is_flag=True, help="Also price other batches, stacks and sizes; takes minutes.")
@click.option("--json", "as_json", is_flag=True, help="Print costs and prices as data.")
def price(job: Path, shop: Path | None, effort: Effort, seed: int, explain: bool, what_if: bool, as_json: bool) -> None:
    """Print what the items of JOB cost, and what to ask for them.

    The job is laid out and cut as by make, but no file is written. Wages, minutes, fees and wishes come from the shop
    file: shop.toml beside the job, or the one that the job names. Without one, usual figures are taken, and named.
    """
    from cutjob.pricing import price_job, variants_of
    from cutjob.reports.chosen import chosen_lines
    from cutjob.reports.money import MEANS, batch_lines, explain_lines, given_lines, money_data, notes

    with progress_line(shown=sys.stderr.isatty() and not as_json) as line:
        result = price_job(job, shop=shop, effort=effort, seed=seed, progress=line.stage, watch=line)
        found = variants_of(job, shop=shop, seed=seed, progress=line.stage) if what_if else ()
    if as_json:
        data = money_data(result) or {}
        if what_if:
            data["what_if"] = [one.data() for one in found]
        click.echo(json.dumps(data, indent=2, ensure_ascii=False))
        return
    if explain:
        for line_ in explain_lines(result):
            click.echo(one_line_kept(line_))
        return
    _print_money(result)
    for line_ in (MEANS, *chosen_lines(result), *batch_lines(result), *given_lines(result), *notes(result)):
        click.echo(one_line(line_))
    if what_if:
        _print_variants(found)


@main.command(epilog=_examples("cutjob choose spring.toml", "cutjob choose spring.toml -o spring-plain.toml"))
@click.argument("job", type=click.Path(path_type=Path))
@click.option(
    "-o", "--out", metavar="FILE", type=click.Path(path_type=Path), help="Write the job with the chosen counts here."
)
@click.option("--shop", metavar="FILE", type=click.Path(path_type=Path), help="Shop file to use instead of the job's.")
@click.option("--effort", type=click.Choice(get_args(Effort)), default="normal", help="As for make; default normal.")
@click.option("--seed", type=click.IntRange(0, 2**32 - 1), default=0, help="As for make; default 0.")
@click.option("--json", "as_json", is_flag=True, help="Print what was chosen as data.")
def choose(job: Path, out: Path | None, shop: Path | None, effort: Effort, seed: int, as_json: bool) -> None:
    """Print how many of each item of JOB to make, where it leaves that open.

    Write count = "as many as fit" or count = { least = 4, most = 12 } in a [[make]]. What leaves most after all costs
    and fees is chosen, from the job's boards and sticks and, where it gives hours, within these. The choice is laid out
    and cut as by make, but no file is written; make does the same and writes the files.
    """
    from cutjob.pricing import choose_counts
    from cutjob.reports.chosen import chosen_data, chosen_lines, chosen_rows
    from cutjob.reports.money import notes

    with progress_line(shown=sys.stderr.isatty() and not as_json) as line:
        result = choose_counts(job, out=out, shop=shop, effort=effort, seed=seed, progress=line.stage, watch=line)
    if as_json:
        click.echo(json.dumps(chosen_data(result), indent=2, ensure_ascii=False))
        return
    width = max(_width(), _MONEY_WIDTH)
    assert result.account is not None
    click.echo(one_line(f"make, in {result.account.currency}"))
    _print_table(*chosen_rows(result), width=width)
    click.echo()
    for text in (*chosen_lines(result), *notes(result)):
        for part in textwrap.wrap(one_line(text), width, subsequent_indent="  ", break_long_words=False):
            click.echo(part)
    if out is not None:
        click.echo(one_line(f"job      {out}"))


@main.command(
    epilog=_examples(
        "cutjob dates spring.toml", "cutjob dates stacks.toml stars.toml --from 2027-02-01 --ics season.ics"
    )
)
@click.argument("jobs", metavar="JOB...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--from", "start", metavar="DATE", help="First day of work, such as 2027-02-01; default today.")
@click.option(
    "--orders", metavar="FILE", type=click.Path(path_type=Path), help="Default orders.toml beside the first job."
)
@click.option(
    "--notes", metavar="FILE", type=click.Path(path_type=Path), help="Default notes.toml beside the first job, if any."
)
@click.option("--shop", metavar="FILE", type=click.Path(path_type=Path), help="Shop file to use instead of the jobs'.")
@click.option("--ics", metavar="FILE", type=click.Path(path_type=Path), help="Write the days as a calendar (RFC 5545).")
@click.option("--json", "as_json", is_flag=True, help="Print the plan as data.")
def dates(
    jobs: tuple[Path, ...],
    start: str | None,
    orders: Path | None,
    notes: Path | None,
    shop: Path | None,
    ics: Path | None,
    as_json: bool,
) -> None:
    """Print by which day the orders for the items of JOB must be begun, are ready, or must be refused.

    Hours of work come from the jobs, hours a day and days off from [week] in the shop file. As few orders as possible
    are refused; the others are made by due date. The same --from gives the same plan.
    """
    from cutjob.days.make_dates import dates_of_jobs
    from cutjob.days.words import dates_data

    first = _day(start, "--from")
    with progress_line(shown=sys.stderr.isatty() and not as_json) as line:
        found = dates_of_jobs(jobs, start=first, orders=orders, notes=notes, shop=shop, progress=line.stage)
    if ics is not None:
        from cutjob.days.calendar_file import calendar_file
        from cutjob.output.one_file import change_file

        calendar = calendar_file(found.plan)
        change_file(ics, lambda _: calendar)
    if as_json:
        click.echo(json.dumps(dates_data(found), indent=2, ensure_ascii=False))
        return
    _print_dates(found)
    if ics is not None:
        click.echo(one_line(f"calendar: {ics}"))


def _day(text: str | None, option: str) -> date:
    """The day of an option, or today."""
    from cutjob.files.values import BadValue, Day

    if text is None:
        return date.today()
    try:
        return Day().read(text, unit="mm")
    except BadValue as bad:
        raise click.BadParameter(str(bad), param_hint=option) from None


def _print_dates(dates: Dates) -> None:
    from cutjob.days.words import note_lines, opening_lines, order_rows, refused_rows, total_rows, week_lines

    width = max(_width(), _MONEY_WIDTH)

    def lines(texts: Iterator[str]) -> None:
        for text in texts:
            for part in textwrap.wrap(one_line(text), width, subsequent_indent="  ", break_long_words=False):
                click.echo(part)

    lines(opening_lines(dates))
    tables = (
        ("make, in this order", order_rows(dates.plan)),
        ("refuse, or agree on a later day: each alone, beside those that are made", refused_rows(dates.plan)),
        ("made and sold", total_rows(dates)),
    )
    for head, (heads, rows) in tables:
        if rows:
            click.echo()
            click.echo(head)
            _print_table(heads, rows, width=width)
    click.echo()
    for text in week_lines(dates.plan):
        indent = " " * (len(text) - len(text.lstrip(" ")))
        for part in textwrap.wrap(
            one_line(text.strip()),
            width,
            initial_indent=indent,
            subsequent_indent=f"{indent}    ",
            break_long_words=False,
        ):
            click.echo(part)
    if dates.plan.kept:
        click.echo()
    lines(note_lines(dates))


@main.command(
    epilog=_examples(
        'cutjob note made "wind stack" 4', 'cutjob note sold "wind stack" 2 --price 38.50 --channel "spring market"'
    )
)
@click.argument("what", type=click.Choice(["made", "sold"]))
@click.argument("item")
@click.argument("count", type=click.IntRange(1, 100_000))
@click.option("--price", type=click.FloatRange(0), help="What was paid for one; for sold.")
@click.option("--channel", metavar="NAME", help="The way of selling, as the shop file names it; for sold.")
@click.option("--order", metavar="MARK", help="The order that it was for; for sold.")
@click.option("--on", "day", metavar="DATE", help="The day, such as 2027-03-05; default today.")
@click.option("--notes", metavar="FILE", type=click.Path(path_type=Path), help="Default notes.toml in this folder.")
def note(
    what: str,
    item: str,
    count: int,
    price: float | None,
    channel: str | None,
    order: str | None,
    day: str | None,
    notes: Path | None,
) -> None:
    """Note that COUNT of ITEM were made or sold, in a plain text file that cutjob dates reads."""
    from cutjob.days.notes import NOTES_FILE, add_note, note_text

    if what == "sold" and (price is None or channel is None):
        raise click.UsageError("what was sold has a --price for one and a --channel")
    if what == "made" and (price is not None or channel is not None or order is not None):
        raise click.UsageError("--price, --channel and --order are for what was sold: leave them out")
    on = _day(day, "--on")
    path = notes or Path(NOTES_FILE)
    values: dict[str, date | str | int | float | None] = {
        "day": on,
        "item": item,
        "count": count,
        "price": price,
        "channel": channel,
        "order": order,
    }
    add_note(path, note_text(what, values))
    click.echo(one_line(f"{path}: {what} on {on.isoformat()}: {count} x {item}"))


def one_line_kept(text: str) -> str:
    """A line with its indentation and without control characters."""
    indent = len(text) - len(text.lstrip(" "))
    return " " * indent + one_line(text.lstrip(" "))


_UNITS = click.option("--units", "unit", type=click.Choice(["in", "mm"]), help="Unit of the lengths printed.")


@main.command(name="list")
@click.argument("what", type=click.Choice(["designs", "machines", "materials"]))
@_UNITS
def list_(what: str, unit: Unit | None) -> None:
    """List designs, machines or materials.

    Designs come with their sizes and parameters. Machines are the shipped profiles, materials those they have feeds
    for.
    """
    if what == "designs":
        _list_designs(unit)
    else:
        _print_columns({"machines": _machines, "materials": _materials}[what]())


@main.command(epilog=_examples("cutjob new graded-stack > job.toml", "cutjob new star --stock shed.toml > stars.toml"))
@click.argument("design")
@_UNITS
@click.option(
    "--stock",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="A file of boards and rods in stock: the job takes what fits from it.",
)
def new(design: str, unit: Unit | None, stock: Path | None) -> None:
    """Print a first job file for DESIGN, a name or the path of a design file; "panel" prints a panel file, "shop" a
    shop file with usual figures, "orders" a file of orders.

    Every line has a comment.
    """
    if design == "shop":
        if stock is not None:
            raise click.BadParameter("a shop file has no stock: leave it out", param_hint="--stock")
        from cutjob.job.read_shop import usual_text

        click.echo(usual_text(), nl=False)
        return
    if design == "orders":
        if stock is not None:
            raise click.BadParameter("a file of orders has no stock: leave it out", param_hint="--stock")
        from cutjob.days.orders import first_orders

        click.echo(first_orders(), nl=False)
        return
    if design == "panel":
        if stock is not None:
            raise click.BadParameter("a panel names its pieces itself: leave it out", param_hint="--stock")
        from cutjob.panels.make_panel import new_panel

        click.echo(new_panel(), nl=False)
        return
    from cutjob.designs.new_job import new_job
    from cutjob.designs.own.find_design import find_design
    from cutjob.job.read_stock import read_stock

    shelf = None if stock is None else read_stock(stock)
    text = new_job(find_design(design, folder=Path()), unit=unit, stock=shelf, stock_path=(stock or Path()).as_posix())
    click.echo(text, nl=False)


def _list_designs(unit: Unit | None) -> None:
    """Print each design with a line of what it makes and its parameters, and an error for one that can't be loaded."""
    from cutjob.designs.catalogue import CATALOGUE
    from cutjob.designs.own.find_design import design_lines
    from cutjob.designs.own.python_design import installed_names, load_installed

    for design in CATALOGUE.values():
        for line in design_lines(design, unit=unit):
            click.echo(line)
    for name in installed_names():
        if name in CATALOGUE:
            continue
        try:
            for line in design_lines(load_installed(name), unit=unit):
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
    help="Number of the panel's look; by default a few are tried and the best is shown.",
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
    for line in result.summary:
        for part in textwrap.wrap(one_line(line), _width(), subsequent_indent="  ", break_long_words=False):
            click.echo(part)
    click.echo(one_line(f"written to {result.folder}"))


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


def _print_table(head: Sequence[str], rows: Sequence[Sequence[str]], *, width: int) -> None:
    """Print a table no wider than `width` letters, without its empty columns."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    kept = [column for column in range(len(head)) if any(row[column] for row in rows)]
    table = Table(*(head[column] for column in kept), box=None, pad_edge=False, header_style="")
    for row in rows:
        # As Text, since square brackets in a plain string would be read as commands for the letters' look.
        table.add_row(*(Text(one_line(row[column])) for column in kept))
    printed = io.StringIO()
    Console(file=printed, width=width, color_system=None).print(table)
    for line in printed.getvalue().splitlines():
        click.echo(line.rstrip())


def _print_money(job: JobResult) -> None:
    """Print what the items cost, and what to ask for them."""
    from cutjob.reports.money import cost_rows, price_rows

    width = max(_width(), _MONEY_WIDTH)
    account = job.account
    if account is None:
        return
    click.echo(one_line(f"cost of one, in {account.currency}"))
    _print_table(*cost_rows(job), width=width)
    click.echo()
    click.echo("what to ask")
    _print_table(*price_rows(job), width=width)
    click.echo()


def _print_variants(variants: Sequence[Variant]) -> None:
    """Print what other batches, stacks and sizes would cost."""
    from cutjob.reports.money import variant_rows

    click.echo()
    click.echo("what if; there are boards and sticks enough, and each line is laid out anew, quickly")
    _print_table(*variant_rows(variants), width=max(_width(), _MONEY_WIDTH))


def _print_findings(
    report: ProofReport, rings: Sequence[int | None], units: Unit, *, errors_aside: bool = False
) -> None:
    """Print findings, each in one line with its place in `units` and the number of its ring; no more than can be read.

    Where findings differ only in their places and figures, the first is printed with the number of the others.
    `errors_aside` sends errors to standard error.
    """
    alike: dict[tuple[str, ...], list[tuple[Finding, int | None]]] = {}
    for finding, ring in zip_longest(report.findings, rings):
        kind = _NUMBER.sub("0", finding.message)
        alike.setdefault((finding.file, finding.check, finding.severity, kind), []).append((finding, ring))
    groups = list(alike.values())
    for group in groups[:_MOST_FINDINGS]:
        finding, ring = group[0]
        where = "" if ring is None else f" (ring {ring})"
        more = f"; and {len(group) - 1} more like it" if len(group) > 1 else ""
        words = f"{finding.severity}: {finding.words(units)}{where}{more}"
        click.echo(one_line(words), err=errors_aside and finding.severity == "error")
    if len(groups) > _MOST_FINDINGS:
        left = sum(map(len, groups[_MOST_FINDINGS:]))
        click.echo(f"and {counted(left, 'more finding')}; --json lists them all")


def _width() -> int:
    """How many letters a line may have: as many as the terminal's, or what reads well where there is no terminal."""
    from cutjob.cli.summary import PIPED_WIDTH

    # What is piped is the same wherever it is run, so only a terminal's own width counts.
    return shutil.get_terminal_size().columns if sys.stdout.isatty() else PIPED_WIDTH


def _print_summary(made: MakeResult) -> None:
    """Print the result of a run on one screen, and each finding of its proof."""
    from cutjob.cli.summary import summary_lines

    if not made.proof.passed:
        _print_findings(made.proof, made.rings, made.job.units, errors_aside=True)
    for line in summary_lines(made.job, made.proof, folder=made.folder, refused=made.refused, width=_width()):
        click.echo(line)


def _print_details(job: JobResult) -> None:
    """Print the whole result of a job, in groups."""
    from cutjob.cli.details import detail_groups

    width = _width()
    for group in detail_groups(job):
        click.echo(click.style(group.head, bold=True))
        if group.rows:
            _print_table(group.heads, group.rows, width=width)
        for line in group.lines:
            for part in textwrap.wrap(one_line(line), width, subsequent_indent="  ", break_long_words=False):
                click.echo(part)
        click.echo()
