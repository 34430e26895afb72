"""Figures on the pages are those of the results that ship."""

from __future__ import annotations

import pytest

from tests.docs.figures import PAGES, ROOT, refresh, study


@pytest.mark.parametrize("name", PAGES)
def test_the_figures_on_a_page_are_those_of_the_results(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    assert "<!-- figures: " in text
    assert refresh(text) == text


def test_the_results_are_of_the_players_and_weights_that_ship() -> None:
    from handread.reading import default_weights
    from handread.simulate import default_population
    from handread.study.forecasters.stored import stored_reader

    made = study("full")["made_with"]
    assert made["population_hash"] == default_population().hash
    default = stored_reader("model", "default", "models/default")
    assert made["stored"]["default"] == default.hash
    assert default_weights().measured
