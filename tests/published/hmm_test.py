"""The library's step, kernel and smoother as plain hidden Markov models; values in hmm_*.toml.

Source: the hmm_*.toml files, each with its own source
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.oracle.chain import N_STATES, kernel_of, move, padded, run, see

HERE = Path(__file__).parent
UMBRELLA: dict[str, Any] = tomllib.loads((HERE / "hmm_umbrella.toml").read_text(encoding="utf-8"))
CHAINS: dict[str, Any] = tomllib.loads((HERE / "hmm_chains.toml").read_text(encoding="utf-8"))


def umbrella_steps(seen: list[bool]) -> list[Any]:
    """Each day the weather moves, then an umbrella is seen or not."""
    shown = np.array(UMBRELLA["umbrella"])
    moving = move(kernel_of(UMBRELLA["transition"]))
    return [step for day in seen for step in (moving, see(padded(shown if day else 1.0 - shown)))]


def test_the_textbook_days_of_the_umbrella_world() -> None:
    book = UMBRELLA["textbook"]
    steps = umbrella_steps(book["seen"])
    filtered, smoothed, _ = run(padded(UMBRELLA["start"]), steps)
    assert filtered[1][0] == pytest.approx(book["rain_given_first"], abs=5e-4)
    assert filtered[2][0] == pytest.approx(book["rain_next_given_first"], abs=5e-4)
    assert filtered[3][0] == pytest.approx(book["rain_given_both"], abs=5e-4)
    assert smoothed[1][0] == pytest.approx(book["rain_first_given_both"], abs=5e-4)


@pytest.mark.parametrize("case", UMBRELLA["sequence"], ids=lambda c: str(len(c)))
def test_five_days_of_the_umbrella_world(case: dict[str, Any]) -> None:
    nothing = see(np.ones(N_STATES))  # day 0, on which nothing is seen
    steps = [nothing, *umbrella_steps(case["seen"])]
    filtered, smoothed, _ = run(padded(UMBRELLA["start"]), steps)
    found = [rows[0] for rows in smoothed[::2]]
    assert found == pytest.approx(case["smoothed"], abs=5e-5)
    if "filtered" in case:
        assert [rows[0] for rows in filtered[2::2]] == pytest.approx(case["filtered"], abs=5e-5)


def along(path: list[int], n: int) -> list[Any]:
    """Steps on which the state itself is seen."""
    return [see(padded(np.eye(n)[state])) for state in path]


def test_the_joint_probability_of_a_path() -> None:
    clinic = CHAINS["clinic"]
    moving = move(kernel_of(clinic["transition"]))
    emission = np.array(clinic["emission"])
    steps = []
    for day, (state, seen) in enumerate(zip(clinic["path"], clinic["seen"], strict=True)):
        steps += [moving] if day else []
        steps += [see(padded(np.eye(2)[state])), see(padded(emission[:, seen]))]
    log_prob = run(padded(clinic["start"]), steps)[2]
    assert np.exp(log_prob) == pytest.approx(clinic["joint"], abs=5e-7)


def test_forward_messages_of_a_model_with_an_end() -> None:
    model = CHAINS["ice_cream"]
    emission, moving = np.array(model["emission"]), move(kernel_of(model["transition"]))
    message = padded(model["start"])
    for day, (seen, expected) in enumerate(zip(model["seen"], model["messages"], strict=True)):
        message = moving.forward(message) if day else message
        message = see(padded(emission[:, seen])).forward(message)
        assert message[:3] == pytest.approx(expected, abs=5e-4)


def test_a_chain_that_is_seen() -> None:
    weather = CHAINS["weather"]
    kernel = kernel_of(weather["transition"])
    path = along(weather["path"], 3)
    steps = [path[0]] + [step for seen in path[1:] for step in (move(kernel), seen)]
    start = padded(np.eye(3)[weather["path"][0]])
    assert np.exp(run(start, steps)[2]) == pytest.approx(weather["probability"], abs=5e-8)
    for state, expected in enumerate(weather["mean_stay"]):
        here = padded(np.eye(3)[state])
        stay = kernel.forward(here)[state]
        assert 1.0 / (1.0 - stay) == pytest.approx(expected, abs=5e-3)
