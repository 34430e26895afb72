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
from numba.core.imputils import lower_getattr_generic
from numba.core.typing.templates import AttributeTemplate, infer_getattr
from numba.extending import intrinsic, models, register_model
from numba.np.arrayobj import populate_array

from handread.simulate.fast.layout import BOOK, N_ROWS, NONE, TABLE, Lists, Sheet

F = TypeVar("F", bound=Callable[..., Any])


def compiled(function: F) -> F:
    """Compile a function of this folder.

    Divisions by zero give what numpy gives, no memory is managed, and Python cannot call it.
    """
    made: F = njit(
        error_model="numpy", _nrt=False, no_cpython_wrapper=True, no_cfunc_wrapper=True
    )(function)  # fmt: skip
    return made


def inlined(function: F) -> F:
    """As ``compiled``, and put in place of every call: for what is called for each target."""
    made: F = njit(
        error_model="numpy", _nrt=False, no_cpython_wrapper=True, no_cfunc_wrapper=True,
        forceinline=True,
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
def call_at(  # type: ignore[no-untyped-def]  # numba passes its own types
    context, address, t, what, a, b, c
):
    """Call the unit at an address on a table."""
    signature = types.int64(types.int64, t, *(types.int64,) * 4)

    def build(context, builder, signature, given):  # type: ignore[no-untyped-def]  # as above
        word, byte = ir.IntType(64), ir.IntType(8).as_pointer()
        form = ir.FunctionType(word, [byte, word, word, word, word])
        function = builder.inttoptr(given[0], form.as_pointer())
        return builder.call(function, [builder.bitcast(given[1], byte), *given[2:]])

    return signature, build


@intrinsic
def cycles(context):  # type: ignore[no-untyped-def]  # numba passes its own types
    """Reading of the processor's cycle counter."""

    def build(context, builder, signature, given):  # type: ignore[no-untyped-def]  # as above
        form = ir.FunctionType(ir.IntType(64), [])
        counter = cgutils.get_or_insert_function(builder.module, form, "llvm.readcyclecounter")
        return builder.call(counter, [])

    return types.int64(), build


@intrinsic
def lowest_bit(context, bits):  # type: ignore[no-untyped-def]  # numba passes its own types
    """Place of the lowest bit that is set in a word of 64, which is not 0."""

    def build(context, builder, signature, given):  # type: ignore[no-untyped-def]  # as above
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
        def build(context, builder, signature, given):  # type: ignore[no-untyped-def]  # as above
            form = context.get_value_type(record)
            if isinstance(address, types.Integer):
                return builder.inttoptr(given[0], form)
            return builder.bitcast(given[0], form)

        return record(address), build

    return at


table_at = _record_at(_TABLE_TYPE)
book_at = _record_at(_BOOK_TYPE)


def _shapes(arrays: Any, said: dict[tuple[Any, str], str]) -> dict[str, Any]:
    """Type and shape of each of some arrays, in their order."""
    found = {
        name: (dtype, shape.split())
        for (dtype, names), shape in said.items()
        for name in names.split()
    }
    return {name: found[name] for name in arrays._fields}


#: By type and names of arrays, their shape: fields of the table, or numbers.
_OF_CARD = _shapes(Sheet, {
    (np.int8, "kind"): "n_targets width", (np.uint8, "size"): "n_targets width",
    (np.bool_, "joker"): "n_targets width", (np.int64, "n_groups n_slots"): "n_targets",
    (np.bool_, "concealed"): "n_targets", (np.float64, "points log_points"): "n_targets",
    (np.int64, "copies most"): "36", (np.int8, "slot_kind"): "n_targets width",
    (np.int8, "slot_need"): "n_targets width 2", (np.int8, "slot_of"): "n_targets 36",
    (np.int64, "first_use first_step"): "37", (np.int32, "use_target touch_target"): "n_uses",
    (np.uint8, "base_code"): "n_padded", (np.int8, "touch_bare touch_total"): "n_uses",
    (np.int32, "hand tier"): "n_targets", (np.uint8, "steps"): "n_steps n_padded",
    (np.float64, "tier_points tier_flowers tier_over"): "n_tiers",
    (np.int16, "want"): "n_targets width",
    (np.int64, "want_kind want_bare want_all"): "n_wants",
})  # fmt: skip
_OF_TABLE = _shapes(Lists, {
    (np.int64, "target"): f"{N_ROWS} n_listed", (np.float64, "weight"): f"{N_ROWS} n_listed",
    (np.int64, "short"): "n_listed", (np.int32, "candidate"): "n_listed",
    (np.uint8, "code"): "4 n_padded", (np.uint64, "words"): "4 n_words",
    (np.bool_, "fits"): "4 n_targets", (np.int32, "fitting"): "4 n_targets",
    (np.int8, "left"): "5 n_targets width 2", (np.int8, "spare"): "width 2",
    (np.float64, "uniforms"): "n_uniforms", (np.int32, "entry_target"): "n_entries",
    (np.float32, "entry_weight"): "n_entries", (np.float64, "tier"): "4 n_tiers",
    (np.uint8, "extra"): "5 n_padded", (np.uint64, "extra_words"): "5 n_words",
    (np.int64, "tier_extra"): "4 n_tiers", (np.uint64, "hits"): "n_words",
    (np.bool_, "known"): "4 n_hands", (np.int64, "tally"): "n_wants",
    (np.float64, "cost"): "n_wants 2",
})  # fmt: skip


class _Arrays(types.Type):  # type: ignore[misc]
    """Arrays that a table knows the places of, passed as the address of the table alone.

    A tuple of the arrays would be passed as some hundreds of numbers at every call.
    """

    def __init__(self, name: str, arrays: dict[str, Any], first: int) -> None:
        super().__init__(name=name)
        self.arrays, self.first = arrays, first

    def array(self, name: str) -> Any:
        """Type of one of them."""
        dtype, shape = self.arrays[name]
        return types.Array(from_dtype(np.dtype(dtype)), len(shape), "C")


register_model(_Arrays)(models.OpaqueModel)
_SHEET_TYPE = _Arrays("arrays of a card", _OF_CARD, 0)
_LISTS_TYPE = _Arrays("arrays of a table", _OF_TABLE, len(_OF_CARD))


@infer_getattr
class _ArraysAttributes(AttributeTemplate):  # type: ignore[misc]
    key = _Arrays

    def generic_resolve(self, arrays, name):  # type: ignore[no-untyped-def]
        return arrays.array(name) if name in arrays.arrays else None


@lower_getattr_generic(_Arrays)
def _array_of(context, builder, arrays, table, name):  # type: ignore[no-untyped-def]
    """One of the arrays; where it lies and how long it is does not change during a game."""
    word = ir.IntType(64)

    def number(field: str, i: int = 0) -> Any:
        offset = TABLE.fields[field][1] + 8 * i  # type: ignore[index]
        place = builder.gep(table, [ir.Constant(word, offset)])
        found = builder.load(builder.bitcast(place, word.as_pointer()))
        found.set_metadata("invariant.load", builder.module.add_metadata([]))
        return found

    form = arrays.array(name)
    shape = [number(n) if n[0] == "n" or n == "width" else ir.Constant(word, int(n))
             for n in arrays.arrays[name][1]]  # fmt: skip
    array = context.make_array(form)(context, builder)
    step = ir.Constant(word, np.dtype(arrays.arrays[name][0]).itemsize)
    strides = [step]
    for length in reversed(shape[1:]):
        strides.insert(0, builder.mul(strides[0], length))
    place = number("at", arrays.first + list(arrays.arrays).index(name))
    populate_array(
        array, data=builder.inttoptr(place, array.data.type), shape=shape, strides=strides,
        itemsize=step, meminfo=None,
    )  # fmt: skip
    return array._getvalue()


def _arrays_at(arrays: _Arrays) -> Any:
    """Function from a table to arrays that it knows the places of."""

    @intrinsic
    def at(context, table):  # type: ignore[no-untyped-def]
        def build(context, builder, signature, given):  # type: ignore[no-untyped-def]  # as above
            return builder.bitcast(given[0], ir.IntType(8).as_pointer())

        return arrays(table), build

    return at


#: Arrays of the card that a table plays on, and those over targets that belong to a table.
sheet_at, lists_at = _arrays_at(_SHEET_TYPE), _arrays_at(_LISTS_TYPE)
