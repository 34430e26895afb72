"""Readers that are told less, or more, than the floor's record: what each input is worth.

``"<reader> less <input>"`` reads the record of somebody who did not write that input down;
``"<reader> seated"`` reads what a seat at the table knows beside it.
"""

from handread.study.inputs.named import INPUTS, knowing_less
from handread.study.inputs.seated import SeatedReader
from handread.study.inputs.tally import Heap, Tally
from handread.study.inputs.telling import Missing, ToldLess, without_draws, without_passes

__all__ = [
    "INPUTS", "Heap", "Missing", "SeatedReader", "Tally", "ToldLess", "knowing_less",
    "without_draws", "without_passes",
]  # fmt: skip
