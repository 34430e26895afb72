"""The rules of play, a module for each part of a game: what each event needs, and what it does."""
