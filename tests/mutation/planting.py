"""Two ways to put a mutant in the place of the code it was made from.

The quick one changes the code of functions that are loaded already, so that libraries, sources and tests are
read once for all mutants. The slow one reads the changed file anew in a process that has not seen it yet: for
mutants outside functions, and for a second look at those that nobody noticed.
"""

from __future__ import annotations

import importlib.abc
import importlib.util
import sys
from types import CodeType, FunctionType, ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import ast
    from pathlib import Path


def module_name(path: Path, root: Path) -> str:
    """Dotted name of a source file."""
    return ".".join(path.relative_to(root).with_suffix("").parts)


class Planted(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Loads one module from a changed syntax tree."""

    def __init__(self, path: Path, tree: ast.Module, root: Path) -> None:
        self.path, self.code = path, compile(tree, str(path), "exec")
        self.name = module_name(path, root)

    def find_spec(self, name: str, path: Any, target: Any = None) -> Any:
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(name, self.path, loader=self)

    def exec_module(self, module: Any) -> None:
        exec(self.code, module.__dict__)


def _outer(code: CodeType) -> tuple[Any, ...]:
    """What a module or class does beside defining functions."""
    inner = tuple(_outer(one) if _is_class(one) else None for one in _codes(code))
    plain = tuple((type(one), one) for one in code.co_consts if not isinstance(one, CodeType))
    return code.co_code, code.co_names, repr(plain), inner


def _codes(code: CodeType) -> list[CodeType]:
    return [one for one in code.co_consts if isinstance(one, CodeType)]


def _is_class(code: CodeType) -> bool:
    return "__module__" in code.co_names and "__qualname__" in code.co_names


def _functions(code: CodeType) -> dict[tuple[str, int], CodeType]:
    """Code of functions and methods by qualified name and line."""
    found = {}
    for one in _codes(code):
        if _is_class(one):
            found |= _functions(one)
        else:
            found[one.co_qualname, one.co_firstlineno] = one
    return found


def changed_functions(was: CodeType, now: CodeType) -> list[tuple[CodeType, CodeType]] | None:
    """Old and new code of the functions that differ; None where more than functions differs."""
    if _outer(was) != _outer(now):
        return None
    old, new = _functions(was), _functions(now)
    return [(old[key], new[key]) for key in old if old[key] != new[key]] or None


def _loaded_functions(holder: Any) -> list[FunctionType]:
    found: list[FunctionType] = []
    for value in list(vars(holder).values()):
        if isinstance(value, property):
            value = value.fget
        value = getattr(value, "__func__", value)
        value = getattr(value, "__wrapped__", value)
        if isinstance(value, FunctionType):
            found.append(value)
        elif (
            isinstance(value, type) and isinstance(holder, ModuleType) and value.__module__ == holder.__name__
        ):
            found += _loaded_functions(value)
    return found


def plant(name: str, changes: list[tuple[CodeType, CodeType]]) -> bool:
    """Change the functions of a loaded module; False where one of them is not found."""
    module = sys.modules.get(name)
    if module is None:
        return False
    loaded = _loaded_functions(module)
    for old, new in changes:
        places = [one for one in loaded if one.__code__ == old]
        if not places:
            return False
        for one in places:
            one.__code__ = new
    return True
