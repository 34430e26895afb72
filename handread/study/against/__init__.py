"""One reader against another in a finished study: where it falls short, and at which moments."""

from handread.study.against.public import SeatRecord, seat_record
from handread.study.against.shortfalls import SHORTFALL_COLUMNS, shortfalls
from handread.study.against.telling import (
    TELLING_COLUMNS,
    TellingMoment,
    telling_frame,
    telling_moments,
)

__all__ = [
    "SHORTFALL_COLUMNS", "TELLING_COLUMNS", "SeatRecord", "TellingMoment", "seat_record",
    "shortfalls", "telling_frame", "telling_moments",
]  # fmt: skip
