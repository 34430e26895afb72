"""What simulated tables look like, beside what players report."""

from handread.simulate.summary.entries import Entry, Summary, summarise_facts
from handread.simulate.summary.facts import GameFacts, game_facts
from handread.simulate.summary.run import summarise_games

__all__ = ["Entry", "GameFacts", "Summary", "game_facts", "summarise_facts", "summarise_games"]
