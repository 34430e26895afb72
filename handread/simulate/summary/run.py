"""Play a batch and summarise it."""

from __future__ import annotations

from collections.abc import Callable

from handread.card.compiled import CompiledCard
from handread.simulate.batch import map_games
from handread.simulate.game.table import TableRules
from handread.simulate.playcard import play_card
from handread.simulate.population import Population, default_population
from handread.simulate.summary.entries import Summary, summarise_facts
from handread.simulate.summary.facts import GameFacts, game_facts


def summarise_games(
    card: CompiledCard, *, n_games: int, seed: int, n_workers: int = 1, engine: str = "auto",
    population: Population | None = None, rules: TableRules | None = None, n_seats: int = 4,
    progress: Callable[[int], None] | None = None,
) -> Summary:  # fmt: skip
    """Play games and say what they look like, beside what players report.

    Breaking off (Ctrl-C) summarises the games played so far, if there are any.

    Parameters
    ----------
    card, n_games, seed, n_workers, engine, population, rules, n_seats
        As for ``simulate_games``.
    progress
        Called with the number of games done.

    Returns
    -------
    Summary
        With how many games were really played.

    Examples
    --------
    >>> import handread as hr
    >>> summary = summarise_games(hr.house_card(), n_games=2, seed=1)
    >>> summary.n_games, summary.entry("wall games").band
    (2, (0.1, 0.25))
    """
    population = population or default_population()
    facts: list[GameFacts] = []
    games = map_games(
        game_facts, card, n_games=n_games, seed=seed, population=population,
        n_workers=n_workers, engine=engine, rules=rules, n_seats=n_seats,
    )  # fmt: skip
    try:
        for fact in games:
            facts.append(fact)
            if progress is not None:
                progress(len(facts))
    except KeyboardInterrupt:
        if not facts:
            raise
    return Summary(
        card=card.name,
        card_hash=card.hash,
        population=population.name,
        population_hash=population.hash,
        seed=seed,
        n_games=len(facts),
        entries=summarise_facts(play_card(card), facts),
    )
