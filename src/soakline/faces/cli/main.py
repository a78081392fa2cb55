"""The command line: read a case file, answer on the terminal, draw the card, start the web application."""

from __future__ import annotations

import gc
import os
import sys
from datetime import UTC, datetime
from importlib import import_module
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING, Annotated

import typer

from soakline import __version__
from soakline.errors import Finding, InputRefused, SoaklineError
from soakline.faces.cli import closing, keeping
from soakline.faces.cli.people import people
from soakline.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from concurrent.futures import Executor

    from soakline.casefile.case import Case
    from soakline.fluid.reach import Model
    from soakline.layout.search import Standing
    from soakline.workflows.answers import Plan

ANSWERED, FAULT, REFUSED, SHUT = 0, 1, 2, 3
_MOST_READ_BYTES = 32_000_000
_BOTH: tuple[Model, ...] = ("settled", "spread")
# Objects made before Python looks for rings of them that nothing holds any more; its own is 700.
_LOOKS_AFTER = 50_000

app = typer.Typer(
    name="soakline",
    help="The geometry, fluid physics and sums behind instillation therapy under spared skin. A draft, not an order.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)
CaseFile = Annotated[Path, typer.Argument(metavar="CASE.toml", help="The case file: what was measured and proposed.")]


@app.command()
def plan(
    case_file: CaseFile,
    *,
    json: Annotated[bool, typer.Option("--json", help="Write the answer as JSON.")] = False,
    model: Annotated[str, typer.Option(help="How the liquid is taken to move: settled, spread or both.")] = "both",
    search: Annotated[
        bool, typer.Option("--search", help="Work longer: ranges for the spread model, and layouts.")
    ] = False,
) -> None:
    """Show hidden size, reach, settings and gate."""
    models = _models(model)
    from soakline.workflows.as_json import plan_json, refused_json

    try:
        _, answer = _searched(case_file, models) if search else _answer(case_file, models)
    except InputRefused as refused:
        if json:
            _print(refused_json(refused.findings))
        raise
    if json:
        _print(plan_json(answer))
    else:
        from soakline.faces.cli.terminal import plan_text

        _print(plan_text(answer))
    raise typer.Exit(_status(answer))


@app.command()
def check(case_file: CaseFile) -> None:
    """Show the findings alone."""
    _, answer = _answer(case_file)
    if not answer.findings:
        _print("No conflict found in the items checked.")
    raise typer.Exit(_status(answer))


@app.command()
def card(
    case_file: CaseFile,
    out: Annotated[Path, typer.Option("-o", "--out", metavar="CARD.pdf", help="Where to write the card.")],
) -> None:
    """Write the bedside card as PDF."""
    case, answer = _answer(case_file)
    if _status(answer) == SHUT:
        _say("No card: the gate is shut.")
        raise typer.Exit(SHUT)
    from soakline.papers.card import make_card

    out.write_bytes(make_card(case, answer, printed_at=datetime.now(UTC), version=__version__))
    _print(f"Card written to {out}.")


@app.command()
def trouble(
    case_file: CaseFile,
    replies: Annotated[
        str | None, typer.Option(metavar="N.N…", help="Replies by their numbers; without it, each is asked for.")
    ] = None,
) -> None:
    """Ask what is wrong, one question at a time, until what it may be and whom to call."""
    case, answer = _answer(case_file)
    from soakline.faces.cli.trouble import ask_through

    ask_through(case, answer, Settings.from_environment(), replies)


@app.command()
def serve(
    port: Annotated[int, typer.Option(min=0, max=65535, help="The port on this computer; 0 takes any.")] = 8765,
    database: Annotated[str | None, typer.Option(metavar="URL", help="Where the cases are kept.")] = None,
    host: Annotated[
        str, typer.Option(metavar="ADDRESS", help="The interface; beyond this computer people sign in.")
    ] = ("127.0.0.1"),
) -> None:
    """Start the web application, for this computer alone or for the people of a site."""
    # Started by name: the faces do not import each other.
    import_module("soakline.faces.web.serve").serve(Settings.from_environment(database_url=database), host, port)


@app.command()
def warm() -> None:
    """Compile the program and its numerical kernels once."""
    from compileall import compile_dir

    from soakline.workflows.warm import warm_kernels

    start_s = perf_counter()
    # Where Python may not keep what it compiles, or not there, every start would compile every module again.
    compile_dir(Path(__file__).parents[2], quiet=2)
    warm_kernels(Settings.from_environment())
    _print(f"Program and kernels compiled and kept, {perf_counter() - start_s:.1f} s.")


for _about_the_record in (
    closing.close,
    closing.reopen,
    keeping.verify,
    keeping.reprint,
    keeping.backup,
    keeping.restore,
):
    app.command()(_about_the_record)
app.add_typer(people, name="people")


def main() -> None:
    """Run one command; end with 0 answered, 2 refused, 3 gate shut, 4 record broken, 1 a fault; never a traceback."""
    for stream in (sys.stdout, sys.stderr):
        stream.reconfigure(errors="replace")  # pyright: ignore[reportAttributeAccessIssue, reportUnknownMemberType]
    gc.set_threshold(_LOOKS_AFTER)
    try:
        sys.exit(_run())
    finally:
        # What is left goes with the process: Python need not take it apart first.
        gc.freeze()


def _run() -> int:
    try:
        app()
    except InputRefused as refused:
        _say_findings(refused.findings)
        return REFUSED
    except SoaklineError as error:
        _say(str(error))
        return REFUSED
    except KeyboardInterrupt:
        _say("Stopped.")
        return FAULT
    except OSError as error:
        _say(f"{error.filename or 'This computer'}: {error.strerror or error}.")
        return REFUSED
    except Exception as fault:  # noqa: BLE001 - the last door: whatever went wrong is said in words
        _say_fault(fault)
        return FAULT
    return ANSWERED


def _models(named: str) -> tuple[Model, ...]:
    known: dict[str, tuple[Model, ...]] = {"settled": ("settled",), "spread": ("spread",), "both": _BOTH}
    if named not in known:
        says = f'"{named}": not a model; allowed are {", ".join(known)}; leave --model out for both'
        raise InputRefused([Finding("refuse", "--model", says)])
    return known[named]


def _searched(case_file: Path, models: tuple[Model, ...]) -> tuple[Case, Plan]:
    """Plan with everything that takes long, on all cores, with a bar on standard error; Ctrl-C stops it."""
    from rich.console import Console
    from rich.progress import Progress

    from soakline.faces.workers import workers

    with Progress(console=Console(stderr=True), transient=True) as bar, workers() as executor:
        # They start while this one brings in its own libraries and reads the file: the first ranking waits less.
        for _ in range(os.cpu_count() or 1):
            executor.submit(int)
        from soakline.workflows.in_words import say_standing

        layouts = bar.add_task("layouts", total=1.0)
        ranges = bar.add_task("plausible wounds", total=1.0)

        def told(standing: Standing) -> None:
            bar.update(layouts, completed=standing.share, description=say_standing(standing))

        return _answer(case_file, models, executor, lambda share: bar.update(ranges, completed=share), told)


def _answer(
    case_file: Path,
    models: tuple[Model, ...] = _BOTH,
    executor: Executor | None = None,
    progress: Callable[[float], None] | None = None,
    told: Callable[[Standing], None] | None = None,
) -> tuple[Case, Plan]:
    from soakline.casefile.read import read_case

    reading = read_case(_bytes_of(case_file))
    from soakline.workflows.plan import Asked, plan_case, refused_findings

    if reading.case is None:
        raise InputRefused(refused_findings(reading))
    asked = Asked(models, executor is not None, executor, progress, told)
    answer = plan_case(reading.case, reading.findings, Settings.from_environment(), asked)
    _say_findings(answer.findings)
    return reading.case, answer


def _bytes_of(case_file: Path) -> bytes:
    # The reader refuses what is too large; this bound only keeps an endless file from filling the memory.
    with case_file.open("rb") as handle:
        return handle.read(_MOST_READ_BYTES)


def _status(answer: Plan) -> int:
    return SHUT if answer.gate.state == "shut" and answer.purpose == "care" else ANSWERED


def _say_findings(findings: Sequence[Finding]) -> None:
    from soakline.workflows.in_words import in_order, say_level

    for finding in in_order(findings):
        _say(" · ".join(filter(None, (say_level(finding.level), finding.where))) + f": {finding.says}")


def _print(text: str) -> None:
    try:
        typer.echo(text)
        sys.stdout.flush()
    except BrokenPipeError:
        # Who read has left; what is still buffered must not raise again when the interpreter ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _say(text: str) -> None:
    typer.echo(text, err=True)


def _say_fault(fault: Exception) -> None:
    last = fault.__traceback__
    while last and last.tb_next:
        last = last.tb_next
    at = f"{last.tb_frame.f_globals.get('__name__')}, line {last.tb_lineno}" if last else "an unknown place"
    _say(f"A fault of Soakline itself, not of the entry: {type(fault).__name__} in {at}: {fault}")
