"""Belief over targets: one event becomes one ``Step``, a step moves a belief, a reading shows it.

``observe`` says what an event tells of each seat, ``likelihood`` turns it into a step, ``update``
moves the beliefs, ``attribution`` and ``ledger`` explain the move, ``smoother`` looks back,
``alphabet`` lists what may come next, ``view`` and ``session`` are what people use.
"""

from handread.reading.alphabet import next_observations
from handread.reading.around import Surroundings
from handread.reading.belief import Belief, start_belief
from handread.reading.evidence import Evidence, SeatEvidence
from handread.reading.forecasts import Forecast, OpenThrow, forecast, open_throw
from handread.reading.holdings import surroundings
from handread.reading.ledger import Ledger
from handread.reading.model import Model, build_model, equal_hands_prior
from handread.reading.session import Reader, Snapshot
from handread.reading.smoother import Smoothed, smooth
from handread.reading.step import Step
from handread.reading.stored import default_weights, stored_model, stored_prior
from handread.reading.updates import update
from handread.reading.view import Reading

__all__ = [
    "Belief", "Evidence", "Forecast", "Ledger", "Model", "OpenThrow", "Reader", "Reading",
    "SeatEvidence", "Smoothed", "Snapshot", "Step", "Surroundings", "build_model",
    "default_weights", "equal_hands_prior", "forecast", "next_observations", "open_throw",
    "smooth", "start_belief", "stored_model", "stored_prior", "surroundings", "update",
]  # fmt: skip
