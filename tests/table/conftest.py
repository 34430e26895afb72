"""What the tests of tables share."""

import pytest

from handread.card import house_card
from handread.card.compiled import CompiledCard


@pytest.fixture(scope="session")
def house() -> CompiledCard:
    return house_card()
