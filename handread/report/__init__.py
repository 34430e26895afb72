"""Readings for people: one game on a page of the terminal, or as one JSON document."""

from handread.report.game import GameReading, read_record
from handread.report.terminal import print_game

__all__ = ["GameReading", "print_game", "read_record"]
