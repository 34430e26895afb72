"""Is the reading any good, and does it know how good it is?

Pure functions over forecasts (probabilities over rows), truths (weights over rows) and the
game that each moment belongs to. Scores are averaged within a game first, then over games;
intervals come from resampling games, and there is none without a game key.
"""

from handread.study.bands import NullBand, ReliabilityBand, bootstrap_band, null_band
from handread.study.calibration import (
    TOP_EDGES,
    CalibrationError,
    binned_error,
    calibration_error,
    top_label_error,
)
from handread.study.clusters import Average, GameIndex, average, game_index, one_moment_per_game
from handread.study.coverage import (
    Coverage,
    chance_in_randomised_set,
    credible_set,
    randomised_set,
    set_coverage,
)
from handread.study.decomposition import Murphy, murphy
from handread.study.ecdf_bands import (
    EcdfBand,
    EcdfCheck,
    band_coverage,
    ecdf_band,
    ecdf_check,
    even_points,
    simulated_ecdf_band,
)
from handread.study.frames import (
    MOMENT_COLUMNS,
    ROW_COLUMNS,
    UPDATE_COLUMNS,
    MomentFrame,
    UpdateFrame,
    common_moments,
)
from handread.study.information import (
    Honesty,
    bits_claimed,
    bits_realised,
    bits_shared,
    honesty,
    honesty_by,
)
from handread.study.intervals import (
    Estimate,
    PairedDifference,
    bootstrap_figures,
    estimate,
    paired_difference,
)
from handread.study.lead import Lead, lead_curve
from handread.study.moments import Moments, MomentTable, aligned
from handread.study.observable import (
    ObservableSkill,
    SmallCalibration,
    discrimination,
    observable_skill,
    small_calibration,
)
from handread.study.power import CalibrationPower, calibration_power, power_matters, tempered
from handread.study.proportions import share_of_games
from handread.study.reliability import (
    Reliability,
    ScoreParts,
    isotonic,
    reliability_by_row,
    reliability_curve,
    reliability_of_top,
    stated_top,
)
from handread.study.scores import (
    bits_gain,
    bits_log_score,
    brier_score,
    rank_of_truth,
    top_k_hit,
    true_state_ratio,
    truth_called_impossible,
)
from handread.study.summarising import summarise
from handread.study.summary import Summary, SummaryLine, summary_from_json
from handread.study.uniformity import (
    UniformityTest,
    exact_rank_pmf,
    randomised_pit,
    rank_test,
    sbc_ranks,
    uniform_test,
)

__all__ = [
    "MOMENT_COLUMNS",
    "ROW_COLUMNS",
    "TOP_EDGES",
    "UPDATE_COLUMNS",
    "Average",
    "CalibrationError",
    "CalibrationPower",
    "Coverage",
    "EcdfBand",
    "EcdfCheck",
    "Estimate",
    "GameIndex",
    "Honesty",
    "Lead",
    "MomentFrame",
    "MomentTable",
    "Moments",
    "Murphy",
    "NullBand",
    "ObservableSkill",
    "PairedDifference",
    "Reliability",
    "ReliabilityBand",
    "ScoreParts",
    "SmallCalibration",
    "Summary",
    "SummaryLine",
    "UniformityTest",
    "UpdateFrame",
    "aligned",
    "average",
    "band_coverage",
    "binned_error",
    "bits_claimed",
    "bits_gain",
    "bits_log_score",
    "bits_realised",
    "bits_shared",
    "bootstrap_band",
    "bootstrap_figures",
    "brier_score",
    "calibration_error",
    "calibration_power",
    "chance_in_randomised_set",
    "common_moments",
    "credible_set",
    "discrimination",
    "ecdf_band",
    "ecdf_check",
    "estimate",
    "even_points",
    "exact_rank_pmf",
    "game_index",
    "honesty",
    "honesty_by",
    "isotonic",
    "lead_curve",
    "murphy",
    "null_band",
    "observable_skill",
    "one_moment_per_game",
    "paired_difference", "power_matters",
    "randomised_pit",
    "randomised_set",
    "rank_of_truth",
    "rank_test",
    "reliability_by_row",
    "reliability_curve",
    "reliability_of_top",
    "sbc_ranks",
    "set_coverage",
    "share_of_games",
    "simulated_ecdf_band",
    "small_calibration",
    "stated_top",
    "summarise",
    "summary_from_json",
    "tempered",
    "top_k_hit",
    "top_label_error",
    "true_state_ratio",
    "truth_called_impossible",
    "uniform_test",
]  # fmt: skip
