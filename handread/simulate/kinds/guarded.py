"""The guarded: weighs its hands until the table grows dangerous, then throws by safety."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.simulate.choice import Scores
from handread.simulate.kernels import shortfall, wanted_by
from handread.simulate.kinds.common import SHARED_HABITS
from handread.simulate.kinds.weigher import Judgement, Weigher
from handread.simulate.playcard import PlayCard
from handread.simulate.player import Habit, Style
from handread.simulate.view import Private, View, shown_rows
from handread.tiles import JOKER, N_KINDS

Array = NDArray[np.float64]

KIND_DEFAULT = Judgement(toll=1.6)

#: How much safer than its copies say a throw is that nobody has just taken.
FOLLOWS = 0.6


@njit(cache=True)
def safety_scores(
    use: Array, heat: Array, use_spread: float, heat_weight: float, folded: bool
) -> Array:  # fmt: skip
    """Scores of throwing each kind by safety: heat against use, use hardly counting if folded."""
    scores = np.zeros(N_KINDS)
    for k in range(N_KINDS):
        own = 0.08 * use[k] if folded else use[k]
        scores[k] = -own / use_spread - heat_weight * heat[k]
    if not folded:
        scores[JOKER] -= 0.35 / use_spread
    else:
        scores[JOKER] -= 1.0
    return scores


@dataclass(frozen=True)
class Guarded(Weigher):
    """See the module."""

    name: str = "guarded"
    version: int = 3
    about: str = "Weighs its hands until the table grows dangerous, then throws by safety."
    weights_mean: str = (
        "As the weigher's. While folded, what it would weigh if it took up building again."
    )
    judgement: Judgement = KIND_DEFAULT
    habits: tuple[Habit, ...] = field(
        default=(
            Habit("keeps hands open", "emergent", "as the weigher"),
            Habit("shows little", "scripted", "a higher toll on claims than the weigher's"),
            Habit("grows alert", "scripted", "two exposures of a seat, or a short wall: lore"),
            Habit("throws safe tiles when alert", "emergent", "by what exposures can still want"),
            Habit("throws seen tiles when alert", "emergent", "copies gone make a kind cold"),
            Habit("follows when alert", "scripted", "a throw that nobody took is safe: lore"),
            Habit("folds when far", "scripted", "alert, and too far for its draws: dogging, lore"),
            Habit("takes up again", "scripted", "when the draws have brought it near after all"),
            Habit("keeps off claims when folded", "scripted", "it only wins by accident"),
            *SHARED_HABITS,
        )
    )

    def alert(self, style: Style, view: View) -> bool:
        """Whether the table is dangerous: a seat with two exposures, or a short wall."""
        shown = [len(view.state.exposures[seat]) for seat in others(view)]
        short = view.state.wall <= 20 + 50 * style.caution
        return bool(view.own_turns > 0 and (max(shown, default=0) >= 2 or short))

    def heat(self, card: PlayCard, style: Style, view: View, private: Private) -> Array:
        """How dangerous each kind is to throw, up to about 3, shape (36,)."""
        unseen = np.ceil(self.live(card, style, view, private)).astype(np.int64)
        late = 1.0 - view.state.wall / view.state.rules.play_wall
        heat = np.asarray(0.5 * late * np.minimum(unseen, 3) / 3.0)
        for seat in others(view):
            n_shown = len(view.state.exposures[seat])
            if n_shown:
                wanted, _ = wanted_by(card.targets, shown_rows(view.state, seat), unseen)
                heat += 0.5 * n_shown * wanted
        if view.state.floor and view.state.floor[-1].taken_by is None:
            heat[view.state.floor[-1].kind] -= FOLLOWS
        heat[JOKER] = 0.0
        return heat

    def reach(self, style: Style, view: View) -> float:
        """Tiles short at which folding is as likely as not, once alert."""
        n_live = max(sum(view.state.live), 1)
        return 1.2 + (0.35 - 0.2 * style.caution) * view.state.wall / n_live

    def plan(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """As the weigher; once alert, fold when far."""
        scores = super().plan(card, style, view, private)
        if not self.alert(style, view):
            return scores
        far = view_distance(card, view) - self.reach(style, view)
        far += -0.7 if private.mode != "folded" else 0.7
        folds = 1.0 / (1.0 + np.exp(-1.6 * far / style.temperature))
        top = scores.max()
        total = top + np.log(np.exp(scores - top).sum())
        with np.errstate(divide="ignore"):  # far enough, it folds for certain; near enough, never
            scores = scores - total + np.log1p(-folds)
            scores[-1] = np.log(folds)
        return np.asarray(scores)

    def settle(
        self, card: PlayCard, style: Style, view: View, private: Private, action: int
    ) -> Private:
        """Mind after a "plan" decision."""
        if action != card.n_targets + 1:
            return super().settle(card, style, view, private, action)
        open_mind = super().settle(card, style, view, private, card.n_targets)
        return Private(
            open_mind.weights, open_mind.wide, -1, "folded", open_mind.remembered,
            open_mind.noticed,
        )  # fmt: skip

    def throw(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """What serves least; once alert, what is safe."""
        if view.decision == "pass" or not (private.mode == "folded" or self.alert(style, view)):
            return super().throw(card, style, view, private)
        use, _ = self.use(card, style, view, private)
        heat = self.heat(card, style, view, private)
        use_spread = self.judgement.throw_spread * style.temperature
        heat_weight = (1.4 + 2.9 * style.caution) / style.temperature
        folded = private.mode == "folded"
        return np.asarray(safety_scores(use, heat, use_spread, heat_weight, folded))

    def claim(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """As the weigher; nothing but a win once folded."""
        scores = super().claim(card, style, view, private)
        if private.mode == "folded" and view.decision == "claim":
            scores[2:] = -np.inf
        return scores


def view_distance(card: PlayCard, view: View) -> int:
    """Tiles that a rack is short of the nearest target."""
    return int(shortfall(card.targets, view.rack, view.shown).min())


def others(view: View) -> list[int]:
    """Live seats but the viewer's."""
    return [seat for seat in range(4) if seat != view.seat and view.state.live[seat]]


KIND = Guarded()
