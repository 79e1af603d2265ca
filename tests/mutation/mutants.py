"""All the small errors that could be planted in a source file.

The kinds are the usual ones of mutation testing: another operator, another comparison, another number, a sign
left out, a condition turned round, `min` for `max`. A whole number is made one higher, and so is a fraction
below 10; above that it is made a tenth higher, because 2,501,000 J/kg one higher is no error that anybody
could see.

Not planted, because the program computes the same with them (read the lines to see that it is so):

- `range` of a loop over `_`, written out or by a name that serves nothing else: how often an iteration may go
  round; each of them ends by itself before, or goes round often enough to be at rest;
- `strict` of `zip`: pieces of equal length pass either way;
- `SPEED_AND_MEMORY`: how much is kept or done at once, and how a library orders its work;
- `SAMPLES_TAKEN`: at how many places something is looked at, one more or less.

Nor in annotations, decorators, messages, `raise`, `__all__` and imports.
"""

from __future__ import annotations

import ast
import copy
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

OTHER_OPERATOR = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Mult, ast.Mod: ast.Mult, ast.MatMult: None,
}  # fmt: skip
OTHER_COMPARISON = {
    ast.Lt: ast.GtE, ast.GtE: ast.Lt, ast.Gt: ast.LtE, ast.LtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
OTHER_NAME = {
    "min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "sin": "cos", "cos": "sin",
    "floor": "ceil", "ceil": "floor", "any": "all", "all": "any", "exp": "cosh", "log": "log1p",
    "sqrt": "cbrt", "sum": "max", "argmin": "argmax", "argmax": "argmin", "isnan": "isfinite",
    "isfinite": "isnan",
}  # fmt: skip
SPEED_AND_MEMORY = {"KEPT_STAGES", "AT_ONCE", "LARGEST_FACTOR"}
"""Names set at the top of a file."""
SPEED_OPTIONS = {"diag_pivot_thresh", "options", "max_workers"}
"""Keywords of calls of libraries."""
SAMPLES_TAKEN = {"SCAN", "SAMPLES"}
HIGH_NUMBER = 10.0


@dataclass(frozen=True)
class Mutant:
    """One planted error.

    Attributes
    ----------
    path : Path
    line : int
    number : int
        Which of the file's mutants this is.
    was, now : str
    """

    path: Path
    line: int
    number: int
    was: str
    now: str


def _changes(node: ast.AST) -> Iterator[ast.AST]:
    """Every changed form of one node."""
    if isinstance(node, ast.BinOp | ast.AugAssign):
        other = OTHER_OPERATOR.get(type(node.op))
        if other is not None:
            changed = copy.deepcopy(node)
            changed.op = other()
            yield changed
    elif isinstance(node, ast.Compare):
        for place, operator in enumerate(node.ops):
            changed = copy.deepcopy(node)
            changed.ops[place] = OTHER_COMPARISON[type(operator)]()
            yield changed
    elif isinstance(node, ast.BoolOp):
        changed = copy.deepcopy(node)
        changed.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield changed
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Not):
        yield copy.deepcopy(node.operand)
    elif isinstance(node, ast.Constant):
        if isinstance(node.value, bool):
            yield ast.Constant(not node.value)
        elif isinstance(node.value, int) or (isinstance(node.value, float) and node.value < HIGH_NUMBER):
            yield ast.Constant(node.value + 1)
        elif isinstance(node.value, float):
            yield ast.Constant(node.value * 1.1)
    elif isinstance(node, ast.Call):
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        other_name = OTHER_NAME.get(name)
        if other_name is not None and (isinstance(node.func, ast.Attribute) or name in {"min", "max", "sum"}):
            changed = copy.deepcopy(node)
            if isinstance(changed.func, ast.Attribute):
                changed.func.attr = other_name
            else:
                changed.func.id = other_name  # type: ignore[attr-defined]
            yield changed
    elif isinstance(node, ast.If | ast.While | ast.IfExp) and not isinstance(node.test, ast.Compare):
        changed = copy.deepcopy(node)
        changed.test = ast.UnaryOp(ast.Not(), changed.test)
        yield changed


def _left_alone(node: ast.AST) -> bool:
    """Parts whose text is no computation: annotations, messages, decorators, names handed out."""
    if isinstance(node, ast.Raise | ast.Import | ast.ImportFrom | ast.JoinedStr | ast.AnnAssign):
        return not isinstance(node, ast.AnnAssign)
    if isinstance(node, ast.If) and getattr(node.test, "id", "") == "TYPE_CHECKING":
        return True
    if isinstance(node, ast.keyword) and node.arg in {"strict", *SPEED_OPTIONS}:
        return True
    names = {getattr(one, "id", "") for one in node.targets} if isinstance(node, ast.Assign) else set()
    return bool(names & {"__all__", *SPEED_AND_MEMORY, *SAMPLES_TAKEN})


def _rounds(tree: ast.Module) -> set[int]:
    """Identities of the nodes that only say how often an iteration may go round."""
    ranges = [
        node.iter for node in ast.walk(tree)
        if isinstance(node, ast.For) and getattr(node.target, "id", "") == "_"
    ]  # fmt: skip
    found = {id(each) for one in ranges for each in ast.walk(one)}
    uses = [node for node in ast.walk(tree) if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load)]
    inside = {node.id for node in uses if id(node) in found}
    outside = {node.id for node in uses if id(node) not in found}
    for node in tree.body:
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") in inside - outside:
            found.add(id(node.value))
    return found


def _places(node: ast.AST) -> Iterator[tuple[ast.AST, str, int | None, ast.AST]]:
    """Parent, field and index of every node that may be changed."""
    for field, value in ast.iter_fields(node):
        if field in {"annotation", "returns", "decorator_list", "type_comment"}:
            continue
        for index, child in enumerate(value) if isinstance(value, list) else [(None, value)]:
            if not isinstance(child, ast.AST) or _left_alone(child):
                continue
            yield node, field, index, child
            yield from _places(child)


def mutants_of(path: Path) -> Iterator[tuple[Mutant, ast.Module]]:
    """Every mutant of a file, each with its whole syntax tree."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    number = 0
    rounds = _rounds(tree)
    for parent, field, index, node in list(_places(tree)):
        if id(node) in rounds:
            continue
        for changed in _changes(node):
            ast.copy_location(changed, node)
            ast.fix_missing_locations(changed)
            _put(parent, field, index, changed)
            was, now = _first_line(node), _first_line(changed)
            yield Mutant(path, getattr(node, "lineno", 1), number, was, now), tree
            _put(parent, field, index, node)
            number += 1


def _put(parent: ast.AST, field: str, index: int | None, node: ast.AST) -> None:
    if index is None:
        setattr(parent, field, node)
    else:
        getattr(parent, field)[index] = node


def _first_line(node: ast.AST) -> str:
    return ast.unparse(node).split("\n")[0][:100]
