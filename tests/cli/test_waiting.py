"""Whoever waits for a compiler is told so, on a terminal, and nobody else is told anything."""

from io import StringIO

import pytest
from numba import njit
from rich.console import Console

from handread.cli.waiting import WORDS, told_of_compiling


def said(*, compiles: bool, terminal: bool) -> str:
    """What a console is told beside a pass that is compiled, or only called."""
    one_more = njit(lambda x: x + 1)
    if not compiles:
        one_more(1)
    out = StringIO()
    with told_of_compiling(Console(file=out, force_terminal=terminal, width=100)):
        one_more(1)
    return out.getvalue()


@pytest.mark.parametrize("compiles", [True, False])
def test_only_a_compiler_is_told_of(compiles: bool) -> None:
    assert (WORDS in said(compiles=compiles, terminal=True)) is compiles


def test_a_file_is_told_nothing() -> None:
    assert said(compiles=True, terminal=False).strip() == ""


def test_an_error_takes_the_words_away() -> None:
    out = StringIO()
    with (
        pytest.raises(ZeroDivisionError),
        told_of_compiling(Console(file=out, force_terminal=True, width=100)),
    ):
        njit(lambda x: 1 / x)(0)
    assert out.getvalue().endswith("\x1b[2K")  # the line is cleared
