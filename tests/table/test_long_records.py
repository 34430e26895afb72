"""Very long records: stated time and memory.

A game has some two hundred events; a file of a million lines is a mistake or an attack, and
reading it may cost time, but neither minutes nor gigabytes.
"""

from __future__ import annotations

import gc
import subprocess
import sys
import time
from pathlib import Path

import pytest

from handread.errors import IllegalEvent, ParseError
from handread.table import load_record, parse_record, replay
from handread.table.events import Discard, WinInError
from handread.table.records import to_json_lines
from tests.peak import PEAK

N = 1_000_000
MOST_SECONDS = 60.0
MOST_MEGABYTES = 1024

_READ = f"""{PEAK}
import sys
from handread.table import load_record
record = load_record(sys.argv[1])
print(len(record.events), peak() // 2**20)
"""


def write(path: Path, *, jsonl: bool) -> None:
    """Write a record of a million lines, no two alike."""
    with path.open("w", encoding="utf-8") as file:
        file.write('{"format":1}\n' if jsonl else "card house\n")
        for n in range(N):
            if jsonl:
                file.write(f'{{"event":"discard","seat":{n % 4},"kind":{n % 27},"pause":{n}.5}}\n')
            else:
                file.write(f"{'eswn'[n % 4]} {n % 9 + 1} bam drawn middle pause {n}.5\n")


@pytest.mark.slow
@pytest.mark.parametrize("suffix", [".txt", ".jsonl"])
def test_a_million_lines_within_a_minute_and_a_gigabyte(tmp_path, suffix):
    path = tmp_path / f"long{suffix}"
    write(path, jsonl=suffix == ".jsonl")
    began = time.perf_counter()
    command = [sys.executable, "-c", _READ, str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    seconds = time.perf_counter() - began
    events, megabytes = map(int, done.stdout.split())
    assert events == N
    assert seconds < MOST_SECONDS
    assert megabytes < MOST_MEGABYTES


@pytest.fixture
def no_collection():
    """Keep garbage collection away, which goes through all that other tests have left."""
    gc.disable()
    yield
    gc.enable()


def test_time_grows_with_the_length_and_not_its_square(tmp_path, no_collection):
    times = []
    for n in (4_000, 16_000):
        path = tmp_path / f"{n}.txt"
        path.write_text("".join(f"{'eswn'[i % 4]} 5 b pause {i}.5\n" for i in range(n)))
        began = time.process_time()
        record = load_record(path)
        times.append(time.process_time() - began)
        assert len(record.events) == n
    assert times[1] < 16 * times[0]


@pytest.mark.parametrize(
    "text", ["s " * 500_000, "9" * 10**6, "x" * 10**6, "s r pause " + "9" * 10**6]
)
def test_a_line_of_a_megabyte_is_refused_at_once_in_few_words(text):
    began = time.perf_counter()
    with pytest.raises(ParseError, match="line 1, place") as error:
        parse_record(text)
    assert len(str(error.value)) < 1000
    assert time.perf_counter() - began < 5


def test_breaches_without_end_are_refused():
    with pytest.raises(IllegalEvent, match=r"event 1002.*1000 breaches"):
        replay([Discard(0, 4), *[WinInError(1)] * 2000])


def test_comments_by_the_ten_thousand_cost_little():
    record = parse_record("\n".join(f"# note {n}" for n in range(10_000)))
    began = time.perf_counter()
    assert replay(record.events).n_events == 10_000
    assert len(to_json_lines(record)) > 10_000
    assert time.perf_counter() - began < 5
