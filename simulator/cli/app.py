"""The command line: one command each in its own file, tied together here."""

from __future__ import annotations

import gc
import os
from typing import Annotated, Final

import typer

from simulator.cli.charge import EXAMPLES as CHARGE_EXAMPLES
from simulator.cli.charge import charge
from simulator.cli.check import check
from simulator.cli.compare import compare
from simulator.cli.examples import examples_of, exit_codes
from simulator.cli.leaving import leave
from simulator.cli.map import draw_map
from simulator.cli.movie import EXAMPLES as MOVIE_EXAMPLES
from simulator.cli.movie import movie
from simulator.cli.new import new
from simulator.cli.overnight import EXAMPLES as OVERNIGHT_EXAMPLES
from simulator.cli.overnight import overnight
from simulator.cli.report import EXAMPLES as REPORT_EXAMPLES
from simulator.cli.report import report
from simulator.cli.run import run
from simulator.cli.show import show
from simulator.cli.size import size
from simulator.cli.sums import sums
from simulator.cli.vary import vary
from simulator.version import VERSION

__all__ = ["app", "main"]

COLLECT_AFTER: Final = 50_000

app = typer.Typer(
    name="ductfloor",
    help="How warm a floor over buried warm-air ducts keeps a room through the night.",
    epilog=exit_codes(),
    no_args_is_help=True,
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command("new")(new)
app.command("check")(check)
app.command("run")(run)
app.command("show")(show)
app.command("map")(draw_map)
app.add_typer(sums)
app.command("vary")(vary)
app.command("compare")(compare)
app.command("size")(size)
app.command("overnight", epilog=OVERNIGHT_EXAMPLES)(overnight)
app.command("charge", epilog=CHARGE_EXAMPLES)(charge)
app.command("movie", epilog=MOVIE_EXAMPLES)(movie)
app.command("report", epilog=REPORT_EXAMPLES)(report)

for _command in app.registered_commands:
    _command.epilog = _command.epilog or examples_of(str(_command.name))


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"ductfloor {VERSION}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version and stop."),
    ] = False,
) -> None:
    """Take the options that stand before a command."""


def main() -> None:
    """Run the command line; ends the process with its exit code."""
    # A command makes many things that stay until it ends: looking through them for rings to be freed, as is
    # usual every few hundred things and once more at the end, takes a tenth of a short run.
    gc.set_threshold(COLLECT_AFTER)
    # A run multiplies matrices on one thread, so that its outcome is the same on every machine; a pool of
    # them would only have to be made.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        app(prog_name="ductfloor")
    except SystemExit as end:
        gc.freeze()
        leave(end)
