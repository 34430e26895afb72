"""The promises of ``many_games``, over a few in the first tier and more in the second."""

import pytest

from tests.oracle.many_games import Worst, main


def hold(worst: Worst) -> None:
    exact = ("bits changed by later events", "bits changed by the reveal", "claims, sum above 1")
    for name, value in worst.found.items():
        limit = 1e-12 if name in exact else 1e-9 if name == "ledger" else 1e-10
        assert value <= limit, (name, value)
    assert len(worst.found) == 6


def test_a_few_games() -> None:
    hold(main(8, 10_000))


@pytest.mark.slow
def test_three_hundred_games() -> None:
    hold(main(300, 30_000))
