"""How this folder is compiled: in units that call each other by address, each cached on disk.

A compiled function takes in all that it calls and is optimised with it, so a game in one piece
would take minutes to compile. The units are the loop of a game, the decisions, and one for each
kind of player; what passes between them is the address of the table, and numbers. A unit is an
``entry``; everything else here is compiled into the units that use it and cached with them. A
cached function does not notice that one which it calls was edited, so each entry carries a
fingerprint of the sources.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from llvmlite import ir
from numba import cfunc, from_dtype, njit, types
from numba.core import cgutils
from numba.extending import intrinsic
from numba.np.arrayobj import populate_array

from handread.simulate.fast.layout import BOOK, N_ROWS, NONE, TABLE, Lists, Sheet
from handread.tiles import N_KINDS

F = TypeVar("F", bound=Callable[..., Any])


def compiled(function: F) -> F:
    """Compile a function of this folder.

    Divisions by zero give what numpy gives, no memory is managed, and Python cannot call it.
    """
    made: F = njit(
        error_model="numpy", _nrt=False, no_cpython_wrapper=True, no_cfunc_wrapper=True
    )(function)  # fmt: skip
    return made


def entry(function: Callable[[int, int, int, int, int], int]) -> Any:
    """Compile an entry: address of the table, then four numbers; gives back a number."""
    word = types.int64
    form = word(types.voidptr, word, word, word, word)
    return cfunc(form, cache=True, error_model="numpy", _nrt=False)(function)


_TABLE_TYPE, _BOOK_TYPE = from_dtype(TABLE), from_dtype(BOOK)


#: Modules of this folder that are Python all through: they are not compiled into anything.
_PLAIN = ("__init__.py", "batch.py", "engine.py", "parts.py", "sheet.py", "telling.py")


@lru_cache(maxsize=1)
def fingerprint() -> int:
    """Hash of all sources that the units are compiled from, 63 bits."""
    fast = Path(__file__).parent
    simulate = fast.parent
    paths = [path for path in fast.rglob("*.py") if path.name not in _PLAIN]
    paths += (simulate / "kinds").glob("*.py")
    paths += [simulate / f"{name}.py" for name in ("kernels", "actions", "manner")]
    found = hashlib.sha256()
    for path in sorted(paths):
        found.update(path.read_bytes())
    return int.from_bytes(found.digest()[:8], "big") >> 1


# Not annotated: numba calls these with its own types in the place of values, by their names.
@intrinsic
def call_at(  # type: ignore[no-untyped-def]
    context, address, t, what, a, b, c
):
    """Call the unit at an address on a table."""
    signature = types.int64(types.int64, t, *(types.int64,) * 4)

    def build(context, builder, signature, given):  # type: ignore[no-untyped-def]
        word, byte = ir.IntType(64), ir.IntType(8).as_pointer()
        form = ir.FunctionType(word, [byte, word, word, word, word])
        function = builder.inttoptr(given[0], form.as_pointer())
        return builder.call(function, [builder.bitcast(given[1], byte), *given[2:]])

    return signature, build


@intrinsic
def cycles(context):  # type: ignore[no-untyped-def]
    """Reading of the processor's cycle counter."""

    def build(context, builder, signature, given):  # type: ignore[no-untyped-def]
        form = ir.FunctionType(ir.IntType(64), [])
        counter = cgutils.get_or_insert_function(builder.module, form, "llvm.readcyclecounter")
        return builder.call(counter, [])

    return types.int64(), build


@intrinsic
def lowest_bit(context, bits):  # type: ignore[no-untyped-def]
    """Place of the lowest bit that is set in a word of 64, which is not 0."""

    def build(context, builder, signature, given):  # type: ignore[no-untyped-def]
        return builder.cttz(given[0], ir.Constant(ir.IntType(1), 1))

    return types.int64(types.uint64), build


@compiled
def start_clock(t: Any) -> int:
    """Cycles now, if the table is timed."""
    return cycles() if t.timed else NONE


@compiled
def stop_clock(t: Any, part: int, since: int) -> None:
    """Put the cycles since then down to a part of the work."""
    if t.timed:
        t.spent[part] += cycles() - since


def _record_at(record: Any) -> Any:
    """Function from an address to the record that lies there."""

    @intrinsic
    def at(context, address):  # type: ignore[no-untyped-def]
        def build(context, builder, signature, given):  # type: ignore[no-untyped-def]
            form = context.get_value_type(record)
            if isinstance(address, types.Integer):
                return builder.inttoptr(given[0], form)
            return builder.bitcast(given[0], form)

        return record(address), build

    return at


table_at = _record_at(_TABLE_TYPE)
book_at = _record_at(_BOOK_TYPE)


@intrinsic
def _array_at(context, address, shape, dtype):  # type: ignore[no-untyped-def]
    """Array of a shape and a type that lies at an address, in C order."""
    sizes = types.UniTuple(types.int64, shape.count)
    found = types.Array(dtype.dtype, shape.count, "C")

    def build(context, builder, signature, given):  # type: ignore[no-untyped-def]
        array = context.make_array(found)(context, builder)
        lengths = cgutils.unpack_tuple(builder, given[1])
        step = context.get_constant(
            types.intp, context.get_abi_sizeof(context.get_data_type(dtype.dtype))
        )
        strides = [step]
        for length in reversed(lengths[1:]):
            strides.insert(0, builder.mul(strides[0], length))
        populate_array(
            array, data=builder.inttoptr(given[0], array.data.type), shape=lengths,
            strides=strides, itemsize=step, meminfo=None,
        )  # fmt: skip
        return array._getvalue()

    return found(types.int64, sizes, dtype), build


@compiled
def sheet_at(t: Any) -> Any:
    """Arrays of the card that a table plays on."""
    n, width, at = t.n_targets, t.width, t.at
    return Sheet(
        _array_at(at[0], (n, width), np.int8),
        _array_at(at[1], (n, width), np.uint8),
        _array_at(at[2], (n, width), np.bool_),
        _array_at(at[3], (n,), np.int64),
        _array_at(at[4], (n,), np.bool_),
        _array_at(at[5], (n,), np.float64),
        _array_at(at[6], (n,), np.float64),
        _array_at(at[7], (N_KINDS,), np.int64),
        _array_at(at[8], (n,), np.int64),
        _array_at(at[9], (n, width), np.int8),
        _array_at(at[10], (n, width, 2), np.int8),
        _array_at(at[11], (n, N_KINDS), np.int8),
        _array_at(at[12], (N_KINDS + 1,), np.int64),
        _array_at(at[13], (t.n_uses,), np.int32),
        _array_at(at[14], (t.n_padded,), np.uint8),
        _array_at(at[15], (N_KINDS,), np.int64),
        _array_at(at[16], (t.n_uses,), np.int32),
        _array_at(at[17], (t.n_uses,), np.int8),
        _array_at(at[18], (t.n_uses,), np.int8),
        _array_at(at[19], (n,), np.int32),
        _array_at(at[20], (N_KINDS + 1,), np.int64),
        _array_at(at[21], (t.n_steps, t.n_padded), np.uint8),
        _array_at(at[22], (n,), np.int32),
        _array_at(at[23], (t.n_tiers,), np.float64),
        _array_at(at[24], (t.n_tiers,), np.float64),
        _array_at(at[25], (t.n_tiers,), np.float64),
    )


@compiled
def lists_at(t: Any) -> Any:
    """Arrays over targets that belong to a table."""
    n, width, at = t.n_targets, t.width, t.at
    return Lists(
        _array_at(at[26], (N_ROWS, n + 2), np.int64),
        _array_at(at[27], (N_ROWS, n + 2), np.float64),
        _array_at(at[28], (n + 2,), np.int64),
        _array_at(at[29], (4, t.n_padded), np.uint8),
        _array_at(at[30], (4, t.n_padded // 8), np.uint64),
        _array_at(at[31], (4, n), np.bool_),
        _array_at(at[32], (4, n), np.int32),
        _array_at(at[33], (5, n, width, 2), np.int8),
        _array_at(at[34], (width, 2), np.int8),
        _array_at(at[35], (t.n_uniforms,), np.float64),
        _array_at(at[36], (t.n_entries,), np.int32),
        _array_at(at[37], (t.n_entries,), np.float32),
        _array_at(at[38], (4, t.n_tiers), np.float64),
        _array_at(at[39], (n + 1,), np.int32),
        _array_at(at[40], (4, t.n_hands), np.bool_),
    )
