"""What pytest leaves out of the doctests: modules whose optional package is not installed."""

from importlib.util import find_spec

collect_ignore = [] if find_spec("pytensor") else ["handread/fitting/posterior/likelihood.py"]
