"""Colours, chosen by contrast and never needed to tell two things apart."""

from __future__ import annotations

from typing import Final

INK: Final = "#1b2530"
QUIET: Final = "#4a5663"
FACE: Final = "#ffffff"
SPENT: Final = "#dfe3e8"
MAT: Final = "#eef1f5"
LANE: Final = "#e0e5ec"
EDGE: Final = "#8d98a5"
BACK: Final = "#5d6b7b"

#: Ground of a suit's mark: bam, crak, dot.
SUIT_INK: Final = ("#46379c", "#984800", "#006a72")
#: Ground of a suit's word: bam, crak, dot.
SUIT_GROUND: Final = ("#e5e1f6", "#f7e6d3", "#d5edf0")
HONOUR_GROUND: Final = "#e4e7eb"
FLOWER_INK: Final = "#86175a"
