"""Three knobs of a fitted model, chosen on held-out games by how well targets are read.

Weights that predict throws best need not read targets best: what a model leaves out makes it too
sure or not sure enough. How much copies that turn up elsewhere count, how readily plans are left,
and how strongly the use of a tile speaks are therefore turned until the families of validation
games are read best, one after the other.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np

from handread.card import load_card
from handread.clues import Weights, load_weights
from handread.clues.context import PHASES
from handread.errors import HandreadError
from handread.reading import Reader, stored_model
from handread.simulate.batch import Setting, engine_of, game_player
from handread.simulate.game.table import TableRules
from handread.study._arrays import Floats
from handread.study.intervals import Estimate, estimate
from handread.study.running.plan import population_named
from handread.study.running.seeds import purpose_seeds
from handread.study.truth import truth_rows
from handread.table.events import Discard
from handread.values import FrozenMap

_LEAST: Final = 1e-12


class Knobs(NamedTuple):
    """Where the knobs stand; as they are, a model is as it was fitted.

    Attributes
    ----------
    elsewhere
        Added to ``elsewhere.power``.
    shift
        Added to ``hazard.base``, nats of log odds.
    use
        Factor of the weights of use in every phase.
    """

    elsewhere: float = 0.0
    shift: float = 0.0
    use: float = 1.0


#: What is tried of each knob, in the order in which they are turned.
TRIED: Final = FrozenMap({
    "elsewhere": (0.0, 0.1, 0.2, 0.3), "shift": (0.0, -0.5, -1.0, -1.5, -2.0),
    "use": (1.0, 1.2, 1.4, 1.6),
})  # fmt: skip


@dataclass(frozen=True)
class Tuned:
    """What was chosen.

    Attributes
    ----------
    knobs
        Where the knobs stand.
    gain
        Log score of the tuned model less that of the fitted one on the games that chose it, bits
        a moment, games counting alike; a little high for that.
    n_games, seed
        Validation games, and their master seed.
    tried
        Mean log score of all that was tried, bits.
    """

    knobs: Knobs
    gain: Estimate
    n_games: int
    seed: int
    tried: Mapping[Knobs, float]

    __hash__ = None  # type: ignore[assignment]  # holds a mapping


def turned(weights: Weights, knobs: Knobs) -> Weights:
    """Weights with the knobs turned.

    Examples
    --------
    >>> turned(load_weights(), Knobs(shift=-1.0))["hazard"]["base"]
    -5.2
    """
    changes = {
        f"use.scale_{phase}": knobs.use * weights["use"][f"scale_{phase}"] for phase in PHASES
    }
    changes["hazard.base"] = weights["hazard"]["base"] + knobs.shift
    changes["elsewhere.power"] = weights["elsewhere"]["power"] + knobs.elsewhere
    return weights.replace(changes)


def scores_of(weights: Weights, card_name: str, population: str, seed: int, n: int) -> Floats:
    """Mean log score of each validation game, bits of the family, shape (n_games,)."""
    card = load_card(card_name)
    model = stored_model(card, weights)
    setting = Setting(population_named(population), TableRules(), card_name=card_name)
    play = game_player(card, setting, engine_of("auto", setting, n))
    out = []
    for game_seed in purpose_seeds(seed, "validation", n):
        game = play(game_seed)
        reader, found = Reader(card, model=model, header=game.record.header), []
        for place, event in enumerate(game.record.public("floor")):
            reader.observe(event)
            if isinstance(event, Discard) and reader.state.live[event.seat]:
                shown = reader.state.exposures[event.seat]
                truth = truth_rows(card, game, event.seat, place + 1, shown)[0]
                said = model.by_family(reader.beliefs[event.seat].probs)
                found.append(float(truth @ np.log2(np.maximum(said, _LEAST))))
        out.append(float(np.mean(found)))
    return np.array(out)


def tune(
    weights: Weights, *, card: str = "house", population: str = "default", seed: int = 20260803,
    n_games: int = 100, n_workers: int = 1,
    progress: Callable[[str, int, int], None] | None = None,
) -> Tuned:  # fmt: skip
    """Choose the knobs on validation games, in the order of ``TRIED``.

    Parameters
    ----------
    weights
        As fitted.
    card, population
        As a plan of a study names them.
    seed
        Master seed; its validation games are neither training nor test games of any seed.
    n_games
        How many.
    n_workers
        Processes.
    progress
        Called with what is done, how much of it, and how much there is.

    Raises
    ------
    HandreadError
        If there are fewer than two games.
    """
    if n_games < 2:
        raise HandreadError(f"n_games={n_games!r}; accepted: 2 or more")
    tell = progress or (lambda what, done, total: None)
    ask = partial(
        scores_of, card_name=card, population=population, seed=seed, n=n_games
    )  # fmt: skip
    best = Knobs()
    found: dict[Knobs, Floats] = {}
    for place, (knob, values) in enumerate(TRIED.items()):
        tell("validation games", place, len(TRIED))
        there = [best._replace(**{knob: value}) for value in values]
        found |= _scores(weights, [each for each in there if each not in found], ask, n_workers)
        best = max(there, key=lambda each: float(found[each].mean()))
    tell("validation games", len(TRIED), len(TRIED))
    gain = estimate(
        found[best] - found[Knobs()], game=np.arange(n_games), rng=np.random.default_rng(seed),
        unit="bits",
    )  # fmt: skip
    tried = {each: float(scores.mean()) for each, scores in found.items()}
    return Tuned(best, gain, n_games, seed, tried)


def _scores(
    weights: Weights, there: Sequence[Knobs], ask: Callable[[Weights], Floats], n_workers: int
) -> dict[Knobs, Floats]:  # fmt: skip
    models = [turned(weights, knobs) for knobs in there]
    if n_workers == 1:
        return dict(zip(there, map(ask, models), strict=True))
    from joblib import Parallel, delayed

    told = Parallel(n_jobs=n_workers)(delayed(ask)(model) for model in models)
    return dict(zip(there, told, strict=True))


def write_tuned(folder: str | Path, out: str | Path, tuned: Tuned) -> Path:
    """Write a model's folder again with the knobs turned; its card says so.

    Parameters
    ----------
    folder
        The fitted model.
    out
        Folder of the tuned one; not there yet.
    tuned
        What was chosen.

    Raises
    ------
    HandreadError
        If `out` is there.
    """
    from handread.fitting.saving import card_text
    from handread.fitting.saving import load_card as load_model_card

    source, place = Path(folder), Path(out)
    if place.exists():
        raise HandreadError(f"{str(place)!r} is there; accepted: a new folder")
    weights = load_weights(source / "weights.toml")
    after = turned(weights, tuned.knobs)
    text = (source / "weights.toml").read_text(encoding="utf-8")
    scales = (("use", f"scale_{phase}") for phase in PHASES)
    for block, name in (("elsewhere", "power"), ("hazard", "base"), *scales):
        text = _with_value(text, block, name, after[block][name], weights[block][name])
    text = re.sub(r'(?m)^name = ".*"$', f'name = "{place.name}"', text, count=1)
    card = load_model_card(source)
    said = {
        "added_to_elsewhere": tuned.knobs.elsewhere,
        "shift_of_log_odds_of_leaving": tuned.knobs.shift, "factor_of_use": tuned.knobs.use,
        "validation_games": tuned.n_games, "validation_seed": tuned.seed,
        "validation_gain_bits": tuned.gain.value,
    }  # fmt: skip
    command = f"{card.command} && handread study tune {source.name} --out models/{place.name}"
    method = f"{card.method}; copies elsewhere, how readily plans are left and the strength of use "
    card = replace(
        card, name=place.name, command=command, method=method + "chosen on validation games",
        diagnostics={**card.diagnostics, **said},
    )  # fmt: skip
    part = place.with_name(f".{place.name}.part")
    shutil.rmtree(part, ignore_errors=True)
    shutil.copytree(source, part)
    (part / "weights.toml").write_text(text, encoding="utf-8")
    (part / "model.toml").write_text(card_text(card), encoding="utf-8")
    if load_weights(part / "weights.toml").blocks != after.blocks:
        raise HandreadError("weights come back from their file otherwise than they went in")
    part.rename(place)
    return place


def _with_value(text: str, block: str, name: str, value: float, fitted: float) -> str:
    """A model file with one value replaced, and a word on where it comes from."""
    start = text.index(f"[{block}]")
    line = rf"(?m)^{name} = .*$"
    word = f"turned on held-out games; before it {fitted:.4g}"
    new = f'{name} = {{ value = {value!r}, word = "{word}" }}'
    return text[:start] + re.sub(line, lambda _: new, text[start:], count=1)
