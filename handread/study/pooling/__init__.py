"""Two readers pooled: what the one knows that the other does not.

The log pool of two beliefs, p proportional to p1^(1 - w) p2^w, with one weight w fitted on games
that neither was trained on. A pool that reads better than the first reader alone shows by how
much the second knows something else.
"""

from handread.study.pooling.fit import PoolFit, PoolPlan, fit_pool, fit_weight, stored_names
from handread.study.pooling.forecaster import Pool, log_pool, pool_of

__all__ = [
    "Pool", "PoolFit", "PoolPlan", "fit_pool", "fit_weight", "log_pool", "pool_of", "stored_names",
]  # fmt: skip
