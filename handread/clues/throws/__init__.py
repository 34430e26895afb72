"""Clues about a throw, one module each; every module here with a ``CLUE`` is registered."""
