"""Imports run one way, and the numerics stay free of files and pictures.

The folders are listed from left to right in the order of the data; a module may import from its own folder
and from folders further left. Folders in one group never import each other. The walk reads the syntax tree,
so imports inside functions, under ``TYPE_CHECKING`` and through ``importlib`` count like any other.
"""

from __future__ import annotations

import ast
import graphlib
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "simulator"
ORDER: tuple[frozenset[str], ...] = (
    frozenset({"errors", "version", "compiled", "kernel"}),
    frozenset({"physics", "case"}),
    frozenset({"climate"}),
    frozenset({"section", "air", "plant", "house"}),
    frozenset({"run"}),
    frozenset({"store"}),
    frozenset({"answers"}),
    frozenset({"look"}),
    frozenset({"cli"}),
)
RANK = {folder: rank for rank, group in enumerate(ORDER) for folder in group}
RANK_OF_RUN = RANK["run"]
RANK_OF_CLI = RANK["cli"]
NOT_IN_NUMERICS = {"h5py", "matplotlib", "typer", "rich"}
KERNEL_IMPORTS = {"__future__", "math", "numba", "numpy", "typing"}
WRITES = {"open", "write_text", "write_bytes"}
READS = {"read_text", "read_bytes"}


def module_name(path: Path) -> str:
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported_names(module: str, source: str) -> list[tuple[int, str]]:
    """Line and absolute dotted name of everything a module imports anywhere in its text."""
    found: list[tuple[int, str]] = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                anchor = module.split(".")[: -node.level]
                base = ".".join([*anchor, base] if base else anchor)
            found += [(node.lineno, f"{base}.{alias.name}") for alias in node.names]
        elif isinstance(node, ast.Call) and called_name(node) in {"import_module", "__import__"}:
            found += [
                (node.lineno, value.value)
                for value in node.args[:1]
                if isinstance(value, ast.Constant) and isinstance(value.value, str)
            ]
    return found


def called_name(call: ast.Call) -> str:
    if isinstance(call.func, ast.Name):
        return call.func.id
    return call.func.attr if isinstance(call.func, ast.Attribute) else ""


def may_read_files(module: str) -> bool:
    parts = module.split(".")
    return module == "simulator.case.loader" or (parts[1] == "climate" and parts[-1].endswith("_file"))


def violations(module: str, source: str) -> list[str]:
    """Every breach of the import rules in one module of the package, as readable lines."""
    folder = module.split(".")[1]
    if folder not in RANK:
        return [f"{module}: folder or file '{folder}' has no place in the order of imports"]
    rank = RANK[folder]
    is_kernel = module.endswith("_kernels")
    breaches: list[str] = []
    for line, name in imported_names(module, source):
        where = f"{module}:{line} imports {name}"
        parts = name.split(".")
        if parts[0] == "simulator":
            target = parts[1] if len(parts) > 1 else ""
            if target not in RANK:
                breaches.append(f"{where}: name the folder, not the package")
            elif target != folder and RANK[target] >= rank:
                breaches.append(f"{where}: not further left than {folder}")
            others = target == "kernel" or (len(parts) > 2 and parts[2].endswith("_kernels"))
            if is_kernel and not others:
                breaches.append(f"{where}: a kernel imports its decorator and other kernels only")
        elif is_kernel and parts[0] not in KERNEL_IMPORTS:
            breaches.append(f"{where}: a kernel imports only {', '.join(sorted(KERNEL_IMPORTS))}")
        if parts[0] in NOT_IN_NUMERICS and rank <= RANK_OF_RUN:
            breaches.append(f"{where}: not from physics to run")
        elif parts[0] == "typer" and rank < RANK_OF_CLI:
            breaches.append(f"{where}: commands live in cli")
        if parts[0] == "click":
            breaches.append(f"{where}: typer carries its own")
    if 0 < rank <= RANK_OF_RUN:
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.Call):
                name = called_name(node)
                if name in WRITES or (name in READS and not may_read_files(module)):
                    breaches.append(f"{module}:{node.lineno} calls {name}(): no files from physics to run")
    return breaches


def package_modules() -> list[Path]:
    top_files = {PACKAGE / "__init__.py", PACKAGE / "__main__.py"}
    return [path for path in sorted(PACKAGE.rglob("*.py")) if path not in top_files]


def test_imports_run_one_way() -> None:
    modules = package_modules()
    assert len(modules) > 10, "the walk must find the package"
    breaches = [
        breach
        for path in modules
        for breach in violations(module_name(path), path.read_text(encoding="utf-8"))
    ]
    assert not breaches, "\n".join(breaches)


def test_inner_packages_re_export_nothing() -> None:
    folders = {path.parent for path in package_modules()} - {PACKAGE}
    for folder in folders:
        hub = folder / "__init__.py"
        assert hub.is_file(), f"{folder.name} needs an __init__.py"
        assert not hub.read_text(encoding="utf-8").strip(), f"{folder.name}/__init__.py must stay empty"


def check_acyclic(sources: dict[str, str]) -> None:
    """Raise ``graphlib.CycleError`` when modules import each other, directly or round a ring."""
    graph: dict[str, set[str]] = {}
    for module, source in sources.items():
        imports = {name for _, name in imported_names(module, source)}
        owners = {name if name in sources else name.rpartition(".")[0] for name in imports}
        graph[module] = (owners & sources.keys()) - {module}
    graphlib.TopologicalSorter(graph).prepare()


def test_no_ring_of_modules() -> None:
    check_acyclic({module_name(path): path.read_text(encoding="utf-8") for path in package_modules()})


PLANTED = {
    "rightward": ("simulator.physics.air", "import simulator.case.units"),
    "sibling": ("simulator.air.march", "from simulator.section.mesh import Mesh"),
    "type checking": (
        "simulator.section.mesh",
        "if TYPE_CHECKING:\n    from simulator.run.loop import simulate",
    ),
    "inside a function": ("simulator.run.loop", "def f():\n    from simulator.store import writer"),
    "relative": ("simulator.house.room", "from ..air import march"),
    "importlib": ("simulator.case.schema", "importlib.import_module('simulator.cli.app')"),
    "whole package": ("simulator.look.maps", "from simulator import Results"),
    "hdf5 in numerics": ("simulator.run.ledger", "import h5py"),
    "pictures in numerics": ("simulator.section.mesh", "from matplotlib import pyplot"),
    "commands in numerics": ("simulator.case.loader", "import typer"),
    "commands in answers": ("simulator.answers.overnight", "import typer"),
    "click": ("simulator.cli.app", "import click"),
    "open": ("simulator.climate.weather", "open('night.csv')"),
    "path open": ("simulator.case.loader", "path.open()"),
    "reading elsewhere": ("simulator.run.plan", "path.read_text()"),
    "kernel imports class": ("simulator.section.section_kernels", "from simulator.section.mesh import Mesh"),
    "kernel imports scipy": ("simulator.air.march_kernels", "import scipy"),
    "unknown folder": ("simulator.helpers.misc", "import math"),
}


@pytest.mark.parametrize(("module", "source"), PLANTED.values(), ids=PLANTED.keys())
def test_a_planted_breach_is_found(module: str, source: str) -> None:
    assert len(violations(module, source)) == 1


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("simulator.run.coupling", "from simulator.air import march\nfrom simulator.section import mesh"),
        ("simulator.case.loader", "from simulator.errors import CaseError\npath.read_text()"),
        ("simulator.climate.weather_file", "path.read_text()\nfrom simulator.case import units"),
        ("simulator.air.march_kernels", "import math\nfrom simulator.air.film_kernels import film"),
        ("simulator.air.march_kernels", "from simulator.physics.air_kernels import density"),
        ("simulator.cli.app", "def f():\n    import typer\n    from simulator.store.record import record"),
    ],
)
def test_allowed_imports_pass(module: str, source: str) -> None:
    assert violations(module, source) == []


def test_a_planted_ring_is_found() -> None:
    sources = {
        "simulator.section.mesh": "from simulator.section.operators import faces",
        "simulator.section.operators": "import simulator.section.solver",
        "simulator.section.solver": "def f():\n    from simulator.section.mesh import Mesh",
    }
    with pytest.raises(graphlib.CycleError):
        check_acyclic(sources)
    check_acyclic(sources | {"simulator.section.solver": ""})
