"""What can be built: a card's words, the hands they describe, and their targets as arrays."""

from handread.card.cardfile import Card, CardHand, ClubRules, Family, format_card
from handread.card.compare import CardDiff, HandChange, card_diff
from handread.card.compile import compile_card
from handread.card.compiled import CompiledCard, Hand, Rules
from handread.card.confusable import confusability, family_overlap, tiles_in_common
from handread.card.describe import CardReport, describe_card
from handread.card.examples import ExampleRack, example_racks, hand_index, target_words
from handread.card.grammar import parse_hand
from handread.card.load import card_names, house_card, load_card, read_card
from handread.card.notation import Pattern, format_hand
from handread.card.parse import parse_card
from handread.card.symmetry import Relabelling, automorphisms, relabelled_kinds
from handread.card.template import card_template
from handread.card.tokens import CardError

__all__ = [
    "Card", "CardDiff", "CardError", "CardHand", "CardReport", "ClubRules", "CompiledCard",
    "ExampleRack", "Family", "Hand", "HandChange", "Pattern", "Relabelling", "Rules",
    "automorphisms", "card_diff", "card_names", "card_template", "compile_card", "confusability",
    "describe_card", "example_racks", "family_overlap", "format_card", "format_hand",
    "hand_index", "house_card", "load_card", "parse_card", "parse_hand", "read_card",
    "relabelled_kinds", "target_words", "tiles_in_common",
]  # fmt: skip
