"""``watch`` in a pseudo-terminal: a typo, an undo, an amendment, a kill and a resume."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

import pexpect
import pytest

from handread.table import load_record
from handread.table.events import Discard, Expose

ROOT = Path(__file__).resolve().parents[2]
_RUN = "import typer; from handread.cli.watch import watch; typer.run(watch)"


def _hears_interrupts() -> None:
    """Of a test run in the background a program would inherit that it ignores Control-C."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def terminal(path: Path, *options: str) -> pexpect.spawn:
    """``watch`` in a terminal of 80 columns and 24 lines."""
    child = pexpect.spawn(
        sys.executable,
        ["-c", _RUN, str(path), *options],
        dimensions=(24, 80),
        encoding="utf-8",
        timeout=20,
        cwd=str(ROOT),
        env={**os.environ, "PYTHONPATH": str(ROOT), "TERM": "xterm"},
        preexec_fn=_hears_interrupts,
    )
    child.delaybeforesend = None
    return child


def type_line(child: pexpect.spawn, line: str, expected: str, prompt: str) -> None:
    child.sendline(line)
    child.expect_exact(expected)
    child.expect_exact(prompt)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "game.txt"


def test_typo_undo_amendment_kill_and_resume(path):
    child = terminal(path, "--no-reading")
    child.expect_exact("1 East> ")
    type_line(child, "e 5 b", "event 1: e 5 bam", "2 South> ")
    type_line(child, "w pnug", "not taken: place 3, 'pnug'", "2 South> ")
    type_line(child, "w p", "event 2: w pung", "3 West> ")
    type_line(child, "w r", "event 3: w red", "4 North> ")
    type_line(child, "undo", "there are 2 now", "3 West> ")
    type_line(child, "w g", "event 3: w green", "4 North> ")
    type_line(child, "fix 2 w k 1", "amended from event 2 on", "4 North> ")
    child.send("n 3")  # the line being typed when the power goes
    child.kill(signal.SIGKILL)
    child.wait()
    saved = load_record(path).events
    assert saved == (Discard(0, 4), Expose(2, 4, 1), Discard(2, 31))

    child = terminal(path, "--no-reading")
    child.expect_exact("taken up after event 3")
    child.expect_exact("4 North> ")
    type_line(child, "n 3 d", "event 4: n 3 dot", "5 East> ")
    child.sendline("quit")
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == 0
    assert load_record(path).events == (*saved, Discard(3, 20))


def test_control_c_gives_a_line_up_and_control_d_leaves(path):
    child = terminal(path, "--no-reading")
    child.expect_exact("1 East> ")
    child.send("e 5")
    child.expect_exact("e 5")
    child.sendintr()
    child.expect_exact("the line is given up")
    child.expect_exact("1 East> ")
    type_line(child, "e r", "event 1: e red", "2 South> ")
    child.sendeof()
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == 0
    assert load_record(path).events == (Discard(0, 32),)


def test_from_a_seat_with_rack_draws_and_passes(path):
    child = terminal(path, "--no-reading", "--from-seat", "s")
    child.expect_exact("1 East> ")
    rack = "rack 5 b 5 b 1 c 2 c 3 c r r g n n f f j"
    type_line(child, rack, "own rack  2x 5 bam, 1 crak", "2 East> ")
    passed = "pass r gave n n g got 9 d 8 d 5 b"
    type_line(child, passed, "own rack  3x 5 bam, 1 crak", "3 East> ")
    type_line(child, "e 5 b", "own rack  3x 5 bam", "4 South> ")
    type_line(child, "drew r", "3x red", "5 South> ")
    type_line(
        child, "s 9 d", "own rack  3x 5 bam, 1 crak, 2 crak, 3 crak, 8 dot, 3x red", "6 West> "
    )
    child.sendline("quit")
    child.expect(pexpect.EOF)
    assert load_record(path).header.viewer == "South"


def test_families_are_shown(path):
    child = terminal(path)
    child.expect_exact("1 East> ")
    child.sendline("e 5 b")
    child.expect(r"East   .* \d+ %, .* \d+ %, .* \d+ %")
    child.expect_exact("2 South> ")
    child.sendline("fix e n")
    child.expect(r"East   .* \d+ %, ")
    child.expect_exact("2 South> ")
    child.sendeof()
    child.expect(pexpect.EOF)


def test_no_line_on_the_screen_is_wider_than_eighty(path):
    child = terminal(path, "--no-reading")
    child.expect_exact("1 East> ")
    shown = []
    for line, prompt in [
        ("e 5 b", "2 South> "),
        ("n r", "3 East> "),
        ("help", "3 East> "),
        ("count", "3 East> "),
        ("s x", "3 East> "),
    ]:
        child.sendline(line)
        child.expect_exact(prompt)
        shown.append(child.before)
    lines = "".join(shown).replace("\r", "").split("\n")
    assert len(lines) > 60
    assert max(map(len, lines)) <= 80
    child.sendeof()
    child.expect(pexpect.EOF)
