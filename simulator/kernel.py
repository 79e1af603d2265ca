"""The decorator of every compiled inner loop: how it is compiled, and how it is fetched from disk.

A loop that was compiled before (`compiled.py` says where it lies) loads in a third of the library's own time.
The library gets ready to compile even when nothing has to be, loads what its own functions were compiled
from, and takes apart the form in which a loop is linked into others, which is wanted only when one of these
is compiled anew. Here all that waits until then.
"""

from __future__ import annotations

from functools import cached_property, partial
from typing import TYPE_CHECKING, Any, Final, TypeVar, overload

import numba
from llvmlite import binding
from numba.core.caching import CompileResultCacheImpl, FunctionCache
from numba.core.dispatcher import Dispatcher
from numba.core.environment import Environment, lookup_environment
from numba.core.runtime.nrt import rtsys

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["kernel"]

Function = TypeVar("Function", bound="Callable[..., Any]")

FAST: Final = frozenset({"nsz", "arcp", "contract", "afn"})
"""Freedoms that leave NaN, infinity and the order of sums alone."""


@overload
def kernel(function: Function) -> Function: ...
@overload
def kernel(*, exact: bool = ..., **options: Any) -> Callable[[Function], Function]: ...
def kernel(function: Any = None, *, exact: bool = False, **options: Any) -> Any:
    """Compile a function on its first call, or take from disk what was compiled before.

    Division by zero gives infinity or NaN, as in arrays.

    Parameters
    ----------
    function : callable
        Numbers, arrays, tuples and other kernels only.
    exact : bool
        Arithmetic to the letter, with errors as in Python.
    **options
        Further words for the compiler, such as ``nogil=True``.
    """
    if function is None:
        return partial(kernel, exact=exact, **options)
    if not exact:
        options = {"error_model": "numpy", "fastmath": set(FAST), **options}
    loop: Any = numba.njit(**options)(function)
    if isinstance(loop, Dispatcher):
        vars(loop)["_cache"] = _KeptLoop(function)
    return loop


class _KeptLoop:
    """What the library asks for compiled versions of one function; looks for their place when first asked."""

    def __init__(self, function: Callable[..., Any]) -> None:
        self._function = function

    @cached_property
    def _cache(self) -> Any:
        return _QuickCache(self._function)  # type: ignore[no-untyped-call]

    def __getattr__(self, name: str) -> Any:
        return getattr(self._cache, name)


class _LateLinking(CompileResultCacheImpl):
    """Loads machine code at once, and what other loops link with when one of them is compiled."""

    def reduce(self, data: Any) -> Any:
        *others, environments = super().reduce(data)  # type: ignore[no-untyped-call]
        return *others, tuple(_constants_of(each) for each in environments)

    def rebuild(self, target_context: Any, payload: Any) -> Any:
        state, described, *others, environments = payload
        others.append(tuple(_environment_of(each) for each in environments))
        name, kind, parts = state
        if kind != "object":
            return super().rebuild(target_context, (state, described, *others))  # type: ignore[no-untyped-call]
        machine_code, linkable = parts
        state = (name, kind, (machine_code, _outline(described)))
        result = super().rebuild(target_context, (state, described, *others))  # type: ignore[no-untyped-call]
        library = result.library
        library._get_module_for_linking = partial(_linkable, library, linkable)
        return result


class _QuickCache(FunctionCache):
    _impl_class = _LateLinking

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        # The library gathers all it knows of types and functions here; before it compiles it does so anyhow.
        rtsys.initialize(target_context)
        with self._guard_against_spurious_io_errors():
            return self._load_overload(sig, target_context)  # type: ignore[no-untyped-call]


def _constants_of(environment: Environment) -> Environment | tuple[str, list[Any]]:
    """Keep of one of the library's own functions what compiled code may ask for: constants, but no module."""
    module = environment.globals["__name__"]
    if module.partition(".")[0] != numba.__name__:
        return environment
    return environment.env_name, list(environment.consts)


def _environment_of(kept: Environment | tuple[str, list[Any]]) -> Environment:
    if isinstance(kept, Environment):
        return kept
    name, constants = kept
    known = lookup_environment(name) or _environments.get(name)  # type: ignore[no-untyped-call]
    if known is None:
        known = _environments[name] = Environment({})
        known.consts[:] = constants
        known.env_name = name
    return known


_environments: dict[str, Environment] = {}


def _outline(described: Any) -> bytes:
    """Stand-in for the linkable form: it names what the machine code holds and is never linked."""
    names = (
        described.llvm_func_name,
        described.llvm_cpython_wrapper_name,
        described.llvm_cfunc_wrapper_name,
    )
    text = "".join(f'define void @"{name}"() {{ unreachable }}\n' for name in dict.fromkeys(names))
    return bytes(binding.parse_assembly(text).as_bitcode())


def _linkable(library: Any, bitcode: bytes) -> Any:
    library._shared_module = binding.parse_bitcode(bitcode)
    del library._get_module_for_linking
    return library._shared_module
