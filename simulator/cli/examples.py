"""Examples that stand below the help of every command."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from simulator.cli import guard

__all__ = ["EXAMPLES", "examples_of", "exit_codes"]

EXAMPLES: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "new": ("new my-floor.toml",),
        "check": (
            "check my-floor.toml",
            "check my-floor.toml --draw understood.png --draw-fan fan.png",
            "check my-floor.toml --json",
        ),
        "run": (
            "run my-floor.toml",
            "run my-floor.toml --units US --out tonight.h5",
            "run my-floor.toml --json --no-pictures > tonight.json",
        ),
        "show": (
            "show my-floor.h5",
            "show my-floor.h5 --night 2 --units US",
            'show my-floor.h5 --from "18:00" --to "+15 h" --flows flows.png',
        ),
        "map": (
            "map my-floor.h5",
            'map my-floor.h5 --station 2 --time "+6 h" --out ground.svg',
            'map my-floor.h5 --plan --time "06:00"',
            "map my-floor.h5 --fan --units US",
        ),
        "vary": (
            'vary my-floor.toml "ducts.length = 10 ft..60 ft in 6 steps"',
            'vary my-floor.toml "fan.flow = 300 cfm, 500 cfm" --output "lowest room" --json',
            'vary my-floor.toml --one-at-a-time "ducts.depth = 1..2 ft" "heat.power = 5..12 kW"',
            'vary my-floor.toml --sample 64 "heat.power = 5..12 kW" "fan.flow = 300..600 cfm"',
            'vary my-floor.toml "ducts.count = 2..8" --spread --output "hours room under 40 degF"',
            "vary --outputs",
        ),
        "compare": (
            "compare my-floor.toml my-floor-longer.toml",
            'compare tonight.h5 last-night.h5 --time "06:00" --json',
        ),
        "size": (
            'size my-floor.toml --change "ducts.count = 2, 4, 6" --want "lowest room at least 40 degF"',
            (
                'size my-floor.toml --change "ducts.length = 10..32 ft in steps of 2 ft" '
                '--want "uptake over 6 h at least 55 %" --limit "fan pressure at most 0.4 in wg" '
                '--price "pipe = 4.20/ft" --price "trench = 9/ft"'
            ),
            "size my-floor.toml --targets wishes.toml --write best.toml",
        ),
        "sum water": (
            'sum water --flow "1.4 gpm" --from "60 degF" --to "81.4 degF"',
            'sum water --heat "15000 BTU/h" --from "60 degF" --to "81.4 degF"',
            'sum water --flow "5 gal" --for "3.5 min" --from "15 degC" --to "27 degC"',
            'sum water --flow "5 L/min" --flow-within "5 %" --from "15 degC" --to "27 degC" --of "13 kW"',
        ),
        "sum air": (
            'sum air --flow "320 cfm" --from "98 degF" --to "57 degF"',
            'sum air --flow "400 m3/h" --from "25 degC" --to "12 degC" --humidity "70 %"',
            'sum air --heat "4.4 kW" --flow "0.15 kg/s" --from "15 degC" --elevation "4000 ft"',
        ),
        "sum fuel": (
            'sum fuel --mass "18.1 kg" --time "6.5 h" --moisture 0.08',
            'sum fuel --heat "30000 BTU/h" --time "10 h" --efficiency "75 %" --moisture "15 %"',
            'sum fuel --mass "40 lb" --time "6.5 h" --part "water = 15000 BTU/h" --part "floor = 5 kW"',
        ),
        "sum heat": (
            'sum heat --rate "15000 BTU/h" --time "6 h"',
            'sum heat --amount "30 kWh" --rate "2 kW"',
        ),
        "sum share": (
            'sum share --part "15000 BTU/h" --of "13.2 kW"',
            'sum share --of "86 kWh" --share "33 %"',
        ),
    }
)
"""What may be typed after the program's name, by the name of the command."""

_MEANINGS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "FAILED": "the calculation failed, or the program has a defect",
        "BAD_INPUT": "words, a case or a file that cannot be used",
        "NO_ROOM": "disk or memory gave out on the way",
        "BUSY": "another run is writing the same results",
        "STOPPED": "stopped with ctrl-C",
    }
)
"""What exit codes mean, by their names in `guard`."""
_NARROW: Final = 76


def exit_codes() -> str:
    """Write what the exit codes mean, for the foot of the help."""
    known = [(getattr(guard, name, None), meaning) for name, meaning in _MEANINGS.items()]
    lines = [f"  {code:<5}{meaning}" for code, meaning in known if code is not None]
    return "\n".join(["\b", "Exit codes:", "  0    done", *lines])


def examples_of(command: str) -> str:
    """Write the examples of a command for the foot of its help, each line as it is typed."""
    lines = ["\b", "Examples:"]
    for example in EXAMPLES.get(command, (f"{command} --help",)):
        line = f"  ductfloor {example}"
        while len(line) > _NARROW:
            cut = line.rfind(" --", 0, _NARROW)
            lines.append(line[:cut] + " \\")
            line = "     " + line[cut:]
        lines.append(line)
    return "\n".join(lines)
