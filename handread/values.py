"""Base of the frozen values that hold arrays."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cache, cached_property
from types import UnionType
from typing import Any, NoReturn, TypeVar, Union, get_args, get_origin, get_type_hints

import numpy as np

K = TypeVar("K")
V = TypeVar("V")
A = TypeVar("A", bound="np.ndarray[Any, Any]")
T = TypeVar("T")


@dataclass(frozen=True, eq=False)
class ContentValue:
    """A frozen value whose fields hold arrays somewhere: compared by content, never hashed."""

    def __init_subclass__(cls) -> None:
        if "__repr__" not in cls.__dict__:
            cls.__repr__ = ContentValue.__repr__  # type: ignore[method-assign]

    def __repr__(self) -> str:
        shown = ", ".join(f"{f.name}={_short(getattr(self, f.name))}" for f in fields(self))
        return f"{type(self).__name__}({shown})"

    def __eq__(self, other: object) -> bool:
        if type(other) is not type(self):
            return NotImplemented
        return all(
            same_content(getattr(self, field.name), getattr(other, field.name))
            for field in fields(self)
        )

    __hash__ = None  # type: ignore[assignment]  # values that hold arrays are unhashable


class FrozenCopies:
    """What comes out of a pickle, or of a deep copy, is as frozen as what went in.

    Numpy hands such arrays out writable. Whoever changed one would change a value under its reader,
    and a compiled pass takes arrays that are read-only for others than those that are not: it would
    be compiled again, and refuse a tuple that holds both.
    """

    def __setstate__(self, state: dict[str, Any]) -> None:
        self.__dict__.update(state)
        for held in state.values():
            _freeze(held)


def _freeze(held: Any) -> None:
    """Make arrays read-only, those in tuples and dicts among them."""
    if isinstance(held, np.ndarray):
        held.flags.writeable = False
    elif isinstance(held, tuple | dict):
        for each in held.values() if isinstance(held, dict) else held:
            _freeze(each)


@dataclass(frozen=True, eq=False)
class ArrayValue(FrozenCopies, ContentValue):
    """A frozen value with fields that are arrays.

    They are kept as read-only views, so that a value cannot change under its reader.
    """

    def __post_init__(self) -> None:
        held = self.__dict__
        kind: type = type(self)
        for name in _array_fields(kind):
            value = held[name]
            if isinstance(value, np.ndarray) and value.flags.writeable:
                held[name] = read_only(value)


@cache
def _array_fields(kind: type[Any]) -> tuple[str, ...]:
    """Fields of a class that can hold an array, as far as their types say."""
    try:
        types = get_type_hints(kind)
    except NameError:  # a name that is there for type checkers alone
        types = {}
    return tuple(each.name for each in fields(kind) if _may_be_array(types.get(each.name, Any)))


def _may_be_array(said: Any) -> bool:
    """Whether something of this type can be an array.

    >>> [_may_be_array(said) for said in (int, tuple[int, ...], np.ndarray | None, Any)]
    [False, False, True, True]
    """
    origin = get_origin(said)
    if origin in (Union, UnionType):
        return any(map(_may_be_array, get_args(said)))
    kind = origin or said
    return kind in (object, Any) or not isinstance(kind, type) or issubclass(kind, np.ndarray)


def evolve(value: T, **changes: Any) -> T:
    """Copy of a frozen value with some fields replaced; ``dataclasses.replace``, much faster.

    What the value has cached is left out, unless it is among the changes: what stays as it was
    need not be worked out again. Names are not checked, and ``__post_init__`` is not run: hand over
    arrays as ``read_only`` ones.

    Examples
    --------
    >>> @dataclass(frozen=True, eq=False)
    ... class Row(ArrayValue):
    ...     name: str
    ...     probs: np.ndarray
    >>> evolve(Row("first", np.zeros(1)), probs=read_only(np.ones(1)))
    Row(name='first', probs=[1.0])
    """
    kind: type = type(value)
    held = value.__dict__.copy()  # at once; entry by entry into a new one takes ten times as long
    for name in _caches(kind):
        held.pop(name, None)
    held.update(changes)
    new: T = object.__new__(kind)
    object.__setattr__(new, "__dict__", held)
    return new


def made(kind: type[T], /, **held: Any) -> T:
    """Frozen value out of its fields, in a third of the time that an ``ArrayValue`` takes itself.

    For values that are made by the million. Names are not checked, and ``__post_init__`` is not
    run: hand over arrays as ``read_only`` ones. Fields with a default may be left out.

    Examples
    --------
    >>> @dataclass(frozen=True, eq=False)
    ... class Row(ArrayValue):
    ...     name: str
    ...     probs: np.ndarray
    ...     note: str = ""
    >>> made(Row, name="first", probs=read_only(np.ones(1)))
    Row(name='first', probs=[1.0], note='')
    """
    new: T = object.__new__(kind)
    object.__setattr__(new, "__dict__", held)
    return new


@cache
def _caches(kind: type) -> tuple[str, ...]:
    """Names under which values of a class keep what they have worked out."""
    return tuple({
        name for base in kind.__mro__ for name, held in vars(base).items()
        if isinstance(held, cached_property)
    })  # fmt: skip


def read_only(array: A) -> A:
    """View of an array that cannot be written to; the array itself where that is so already."""
    if not array.flags.writeable:
        return array
    view = array.view()
    view.setflags(write=False)
    return view


def _short(value: Any) -> str:
    """Say a field's value in few words: arrays by shape, long values cut."""
    if isinstance(value, np.ndarray):
        return f"<{value.dtype} {value.shape}>" if value.size > 8 else repr(value.tolist())
    if isinstance(value, ContentValue):
        return f"<{type(value).__name__}>"
    words = repr(value)
    return words if len(words) <= 120 else f"{words[:117]}..."


def same_content(one: Any, other: Any) -> bool:
    """Whether two field values are equal, arrays element by element (nan equal to nan)."""
    if isinstance(one, np.ndarray) and isinstance(other, np.ndarray):
        floating = one.dtype.kind == "f" and other.dtype.kind == "f"
        return np.array_equal(one, other, equal_nan=floating)
    return bool(one == other)


def frozen(array: A) -> A:
    """Make an array read-only and return it, for constants."""
    array.setflags(write=False)  # by way of `flags` it takes twice as long
    return array


class FrozenMap(dict[K, V]):
    """A mapping that refuses to change, can be pickled, and compares by content.

    It keeps values from changing by a slip, not from changing by intent: a call of ``__init__``
    on one that is there, or of a method of ``dict`` itself, writes through. ``copy`` and ``|`` give
    a plain ``dict``, which may change; ``fromkeys`` is refused.

    Examples
    --------
    >>> FrozenMap({"a": 1})["a"]
    1
    """

    __slots__ = ()

    def _refuse(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise TypeError("a FrozenMap cannot change; accepted: a new one, FrozenMap({**old, ...})")

    __setitem__ = __delitem__ = __ior__ = _refuse
    clear = pop = popitem = setdefault = update = _refuse

    def __reduce__(self) -> tuple[type[FrozenMap[K, V]], tuple[dict[K, V]]]:
        return FrozenMap, (dict(self),)

    def __repr__(self) -> str:
        return f"FrozenMap({super().__repr__()})"
