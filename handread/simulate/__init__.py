"""Tables that play themselves: the rules whole, players who speak probability, the truth."""

from handread.simulate.batch import club_of, game_seeds, simulate_games
from handread.simulate.contract import check_player
from handread.simulate.files import (
    game_from_json,
    game_to_json,
    read_games,
    write_games,
    write_lines,
)
from handread.simulate.game.play import SimulatedGame, play_game
from handread.simulate.game.table import TableRules
from handread.simulate.playcard import PlayCard, play_card
from handread.simulate.player import Habit, Kind, Player, Style
from handread.simulate.population import Population, Spread, default_population, people_of
from handread.simulate.registry import kind_named, kind_names, kinds
from handread.simulate.seen import racks_after, seen_by, with_reveal
from handread.simulate.truth import Change, Ending, Moments, Person, Truth
from handread.simulate.view import Private, View

__all__ = [
    "Change", "Ending", "Habit", "Kind", "Moments", "Person", "PlayCard", "Player",
    "Population", "Private", "SimulatedGame", "Spread", "Style", "TableRules", "Truth", "View",
    "check_player", "club_of", "default_population", "game_from_json", "game_seeds",
    "game_to_json", "kind_named", "kind_names", "kinds", "people_of", "play_card", "play_game",
    "racks_after", "read_games", "seen_by", "simulate_games", "with_reveal", "write_games",
    "write_lines",
]  # fmt: skip
