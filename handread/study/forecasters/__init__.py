"""Who is compared: the protocol of a forecaster, bases, the library's reader, oracles."""

from handread.study.forecasters.contract import (
    Explains,
    Forecaster,
    Foretells,
    Move,
    Oracle,
    Watcher,
    Window,
    checked_belief,
    row_names,
)
from handread.study.forecasters.guesses import Uniform, WrittenGuesses
from handread.study.forecasters.minds import MindFilter, thin_out
from handread.study.forecasters.model import ModelReader, lore_reader
from handread.study.forecasters.named import NAMES, forecaster_named
from handread.study.forecasters.oracle import RackOracle, style_free_oracle
from handread.study.forecasters.trained import (
    BaseRates,
    Elimination,
    StructuralFloor,
    Training,
    empty_training,
)

__all__ = [
    "NAMES", "BaseRates", "Elimination", "Explains", "Forecaster", "Foretells", "MindFilter",
    "ModelReader", "Move", "Oracle", "RackOracle", "StructuralFloor", "Training", "Uniform",
    "Watcher", "Window", "WrittenGuesses", "checked_belief", "empty_training",
    "forecaster_named", "lore_reader", "row_names", "style_free_oracle", "thin_out",
]  # fmt: skip
