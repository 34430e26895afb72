"""A clue registered twice, weights as they are, claims more than it realises: honesty says so."""

from __future__ import annotations

import numpy as np
import pytest

import handread as hr
from handread.simulate import simulate_games
from handread.study import UpdateFrame, honesty
from handread.study.forecasters import lore_reader
from handread.study.running import Asked, watch_game


@pytest.mark.slow
def test_a_clue_counted_twice_is_less_honest() -> None:
    import pandas as pd

    card = hr.house_card()
    readers = {
        reader.name: reader for reader in (lore_reader(card), lore_reader(card, twice="use"))
    }
    asked = Asked(moves=tuple(readers), base="lore")
    updates = []
    for number, game in enumerate(simulate_games(card, n_games=40, seed=515)):
        updates += watch_game(card, game, readers, number=number, asked=asked).updates
    frame = UpdateFrame(pd.DataFrame(updates)).frame
    throws = frame[(frame["kind"] == "throw") & (frame["clue"] == "all")]
    by_game = throws.groupby(["reader", "game"])[["bits_claimed", "bits_realised"]].sum()
    over = by_game["bits_claimed"] - by_game["bits_realised"]
    gap = over["lore with use twice"] - over["lore"]
    rng = np.random.default_rng(1)
    told = honesty(gap, np.zeros(len(gap)), game=np.arange(len(gap)), rng=rng)
    assert told.claimed.low > 0.0, f"twice over once: {told.claimed}"
