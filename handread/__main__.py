"""``python -m handread``: the command line."""

from handread.cli import main

main()
