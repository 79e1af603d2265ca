"""`ductfloor new`: a commented case file to start from."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from simulator.cli.guard import guarded
from simulator.errors import DuctfloorError

__all__ = ["new"]


@guarded
def new(
    file: Annotated[Path, typer.Argument(help="Case file to write.")] = Path("case.toml"),
    force: Annotated[bool, typer.Option("--force", help="Replace the file if it is there.")] = False,
    json: Annotated[bool, typer.Option("--json", help="Print the file written as JSON.")] = False,
) -> None:
    """Write a commented case file to start from."""
    from simulator.case.loader import starter_text
    from simulator.cli.screen import print_written

    text = starter_text()
    try:
        # Mode "x" refuses in the same instant as it looks, so nothing is ever overwritten unasked.
        with file.open("w" if force else "x", encoding="utf-8", newline="\n") as handle:
            handle.write(text)
    except FileExistsError:
        message = f"{file}: this file exists and was left alone; choose another name, or add --force"
        raise DuctfloorError(message) from None
    print_written(file, json)
    if not json:
        typer.echo(f"next: ductfloor check {file}")
