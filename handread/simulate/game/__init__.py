"""One game played out: the hidden tiles, the passes, the turns, the claims, the end."""
