"""Train on some kinds of player, test on another: what is learned about people, and about one kind.

Everything that is estimated comes from the training games alone: rates, prior, weights, and
whatever else a trainer fits. Rows are populations to train on, columns are kinds to test on.
"""

from handread.study.matrix.plan import MatrixPlan, load_matrix_plan, reader_name
from handread.study.matrix.results import (
    Cell,
    Headline,
    MatrixResult,
    read_matrix,
    score_matrix,
)
from handread.study.matrix.running import run_matrix
from handread.study.matrix.trainers import TRAINERS, Train, TrainingGames
from handread.study.matrix.words import matrix_lines

__all__ = [
    "TRAINERS", "Cell", "Headline", "MatrixPlan", "MatrixResult", "Train", "TrainingGames",
    "load_matrix_plan", "matrix_lines", "read_matrix", "reader_name", "run_matrix", "score_matrix",
]  # fmt: skip
