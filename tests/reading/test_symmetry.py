"""What cannot matter does not matter: who is called East, and which suit is called bam."""

from __future__ import annotations

from dataclasses import replace

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import handread as hr
from handread.card.symmetry import automorphisms
from handread.reading import build_model
from handread.reading.kernel import change_kernel
from handread.table import Record, start
from handread.table.events import AnyEvent, Header, Rack, Reveal
from tests.oracle.toy import observe_all, start_beliefs, toy_card, toy_model
from tests.reading.records import legal_records
from tests.reading.test_properties import read
from tests.support.random_play import random_record


def turned(event: AnyEvent, by: int) -> AnyEvent:
    """The same event at a table whose seats are named one further round."""
    changes: dict[str, object] = {}
    for name in ("seat", "owner", "caller"):
        if getattr(event, name, None) is not None:
            changes[name] = (getattr(event, name) + by) % 4
    for name in ("blind", "counts"):
        if getattr(event, name, None) is not None:
            four = getattr(event, name)
            changes[name] = tuple(four[(seat - by) % 4] for seat in range(4))
    turned_event: AnyEvent = msgspec.structs.replace(event, **changes)
    return turned_event


@given(legal_records(toy_card()), st.integers(1, 3))
@settings(max_examples=10)
def test_seats_are_treated_alike(record: Record, by: int) -> None:
    """Naming the seats one further round, the dealer too, turns the reading and no more."""
    model = toy_model()
    one = read(model, record.header, list(record.events))
    header = Header(dealer=(record.header.dealer + by) % 4)
    other = read(model, header, [turned(event, by) for event in record.events])
    for (_, beliefs, said), (_, turned_beliefs, turned_said) in zip(one, other, strict=True):
        for seat in range(4):
            np.testing.assert_allclose(
                turned_beliefs[(seat + by) % 4].probs, beliefs[seat].probs, rtol=0, atol=1e-12
            )
        assert turned_said.log_prob == pytest.approx(said.log_prob, abs=1e-9)


def test_suits_that_a_card_treats_alike_are_read_alike() -> None:
    """The house card stays as it is when bams and craks change names, and so does its reading.

    All targets count as near here: with fewer, equals at the cut are kept by their index, which
    moves the reading a little (0.6 points at most in six games).
    """
    card = hr.house_card()
    swap = next(each for each in automorphisms(card) if each.words)
    model = build_model(card)
    everyone = card.n_targets - 1
    kernel = change_kernel(card, model.prior, model.weights["destination"], n_near=everyone)
    model = replace(model, kernel=kernel)
    record = random_record(np.random.default_rng(5), card, 24)
    events = [event for event in record.events if not isinstance(event, Rack | Reveal)]
    renamed: list[AnyEvent] = [
        event
        if getattr(event, "kind", None) is None
        else msgspec.structs.replace(event, kind=int(swap.kinds[event.kind]))
        for event in events
    ]
    first = start(record.header, card.rules)
    one = observe_all(model, start_beliefs(model), first, events)[0]
    other = observe_all(model, start_beliefs(model), first, renamed)[0]
    for seat in range(4):
        np.testing.assert_allclose(
            model.by_family(other[seat].probs), model.by_family(one[seat].probs), atol=1e-12
        )
