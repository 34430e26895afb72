"""Studies: a plan in, games played and watched over processes, figures with intervals out."""

from handread.study.running.bench import play_seed
from handread.study.running.carrying import Hands, carried_out
from handread.study.running.game import Asked, GameLines, count_game, watch_game
from handread.study.running.packed import PackedMoments
from handread.study.running.plan import StudyPlan, load_plan, population_named
from handread.study.running.results import (
    STUDY_COLUMNS,
    WINDOW_COLUMNS,
    StudyResult,
    read_result,
)
from handread.study.running.runner import run_study
from handread.study.running.seeds import Seeds, purpose_seeds, study_seeds
from handread.study.running.words import study_lines

__all__ = [
    "STUDY_COLUMNS", "WINDOW_COLUMNS", "Asked", "GameLines", "Hands", "PackedMoments", "Seeds",
    "StudyPlan", "StudyResult", "carried_out", "count_game", "load_plan", "play_seed",
    "population_named", "purpose_seeds", "read_result", "run_study", "study_lines", "study_seeds",
    "watch_game",
]  # fmt: skip
