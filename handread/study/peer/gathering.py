"""Rows to train a peer on: one random own turn of each seat of each game, block by block."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.simulate import SimulatedGame
from handread.simulate.batch import Setting, engine_of, game_player
from handread.simulate.game.table import ENGINE_VERSION, TableRules
from handread.study.peer.features import FEATURES, VERSION, FeatureKeeper
from handread.study.running.bench import table_card
from handread.study.running.carrying import Hands, carried_out
from handread.study.running.plan import population_named
from handread.study.running.store import drop_parts, pack_arrays, put_file, unpack_arrays
from handread.study.truth import truth_rows
from handread.table.events import Discard
from handread.table.play import apply, start
from handread.values import ArrayValue

#: Games of a block.
BLOCK: Final = 25

#: Called with what is being done, games done, and games in all.
Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, eq=False)
class Rows(ArrayValue):
    """Moments to learn from.

    Attributes
    ----------
    features
        Without sums, shape (n, 378); halves are exact for counts.
    label
        Row that was true, drawn by its weight where several were, shape (n,).
    game
        Number of the game, shape (n,).
    own_turn
        Own turns of the seat, shape (n,).
    """

    features: NDArray[np.float16]
    label: NDArray[np.int16]
    game: NDArray[np.int64]
    own_turn: NDArray[np.int16]

    def __len__(self) -> int:
        return len(self.label)

    def where(self, keep: NDArray[np.bool_]) -> Rows:
        """Return some of the moments."""
        return Rows(self.features[keep], self.label[keep], self.game[keep], self.own_turn[keep])


def rows_of_game(card: CompiledCard, game: SimulatedGame, number: int) -> Rows:
    """One random own turn of each seat that has one.

    Parameters
    ----------
    card
        The card.
    game
        The game.
    number
        Its number.

    Returns
    -------
    Rows
        At most four. The choice follows from the game's seed.
    """
    rng = np.random.default_rng([game.truth.seed, 5])
    events = tuple(game.record.public("floor"))
    turns: dict[int, list[int]] = {}
    for place, event in enumerate(events):
        if isinstance(event, Discard):
            turns.setdefault(event.seat, []).append(place)
    chosen = {int(rng.choice(places)): seat for seat, places in sorted(turns.items())}
    keeper = FeatureKeeper(card, game.record.header)
    state = start(game.record.header, card.rules)
    found = []
    for place, event in enumerate(events):
        state = apply(state, event, card)
        keeper.observe(event, state)
        seat = chosen.get(place)
        if seat is None or not state.live[seat]:
            continue
        truth, _, _ = truth_rows(card, game, seat, place + 1, state.exposures[seat])
        label = int(rng.choice(len(truth), p=truth / truth.sum()))
        found.append((keeper.features(seat), label, state.turns[seat]))
    features = np.array([row for row, _, _ in found], dtype=np.float16).reshape(-1, FEATURES)
    return Rows(
        features,
        np.array([label for _, label, _ in found], dtype=np.int16),
        np.full(len(found), number, dtype=np.int64),
        np.array([turn for _, _, turn in found], dtype=np.int16),
    )


def gather_block(shared: tuple[str, str, int], block: tuple[int, tuple[int, ...]]) -> bytes:
    """Play a block of games and pack their rows; runs in a process of its own.

    Parameters
    ----------
    shared
        Names of card and population, and games in all.
    block
        Number of its first game, and the seeds.
    """
    card_name, population, n_games = shared
    card = table_card(card_name)
    setting = Setting(population_named(population), TableRules(), card_name=card_name)
    first, seeds = block
    play = game_player(card.card, setting, engine_of("auto", setting, n_games))
    games = [rows_of_game(card.card, play(seed), first + i) for i, seed in enumerate(seeds)]
    return pack_arrays(_joined(games))


def _joined(parts: Sequence[Rows]) -> dict[str, Any]:
    names = ("features", "label", "game", "own_turn")
    return {name: np.concatenate([getattr(part, name) for part in parts]) for name in names}


def gather_rows(
    card_name: str,
    population: str,
    seeds: Sequence[int],
    *,
    work: str | Path,
    what: str = "training",
    hands: Hands | None = None,
    progress: Progress | None = None,
) -> Rows:
    """Play games and gather the rows of all, going on where an earlier run was broken off.

    Parameters
    ----------
    card_name, population
        As a plan of a study names them.
    seeds
        Of the games.
    work
        Folder for the blocks.
    what
        Name of these games in the folder, and for `progress`.
    hands
        Who plays; None for this process.
    progress
        Called with games done.

    Returns
    -------
    Rows

    Raises
    ------
    HandreadError
        If the folder holds rows of other games.
    """
    folder = Path(work) / what
    said = {
        "card": table_card(card_name).card.hash,
        "population": population_named(population).hash,
        "engine": ENGINE_VERSION,
        "block": BLOCK,
        "features": VERSION,
    }
    claim(folder, said)
    blocks = [(i, tuple(seeds[i : i + BLOCK])) for i in range(0, len(seeds), BLOCK)]

    def path(block: tuple[int, tuple[int, ...]]) -> Path:
        return folder / f"{block[0]:07d}-{block[1][0]}-{len(block[1])}.bin"

    missing = [block for block in blocks if not path(block).exists()]
    done = len(blocks) - len(missing)
    tell = progress or (lambda what, done, total: None)
    tell(what, done, len(blocks))
    shared = (card_name, population, len(seeds))
    for block, content in carried_out(gather_block, shared, missing, hands or Hands()):
        put_file(path(block), content)
        done += 1
        tell(what, done, len(blocks))
    parts = [Rows(**unpack_arrays(path(b).read_bytes(), str(path(b)))) for b in blocks]
    return Rows(**_joined(parts))


def claim(folder: Path, said: dict[str, Any]) -> None:
    """Make a folder for work that depends on these things, or check that it is that folder.

    Raises
    ------
    HandreadError
        If it holds work that depends on other things.
    """
    file = folder / "work.json"
    drop_parts(folder)
    text = json.dumps(said, sort_keys=True)
    if not file.exists():
        put_file(file, text.encode())
    elif json.loads(file.read_text(encoding="utf-8")) != json.loads(text):
        raise HandreadError(
            f"{str(folder)!r} holds work for {file.read_text(encoding='utf-8')}, asked is {text}; "
            "accepted: the same, or a new folder"
        )
