"""The kinds of player, one module each with a value ``KIND``."""
