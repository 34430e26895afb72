"""handread: read a table of American-style mahjong."""

from handread.errors import HandreadError, IllegalEvent, ImpossibleEvidence, ParseError

__version__ = "0.1.0"
__all__ = ["HandreadError", "IllegalEvent", "ImpossibleEvidence", "ParseError"]
