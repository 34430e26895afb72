"""The page of a cross-policy matrix."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from html import escape

from handread.report.page.figures import Dot, intervals, shaded
from handread.report.page.markup import document, figure, number, section, span, table, words
from handread.study import Estimate
from handread.study.matrix import MatrixResult


def matrix_page(result: MatrixResult) -> str:
    """Put the page of a matrix together.

    Parameters
    ----------
    result
        A finished matrix.

    Returns
    -------
    str
        A whole HTML document.
    """
    plan = result.plan
    return document(
        f"Matrix {plan.name}",
        words(
            f"Readers trained on {plan.training:,} simulated games of each row, tested on "
            f"{plan.test:,} games of each kind of player, card {plan.card}. Everything that a "
            "reader estimates comes from the games of its row. Bits a moment; intervals are 95 %, "
            "by resampling games."
        ),
        section("What it costs not to have met the kind", *_headlines(result)),
        *(section(f"Trained: {name}", *_trainer(result, name)) for name in plan.all_trainers),
        section(
            "What this rests on",
            table(["plan", ""], [[escape(k), escape(str(v))] for k, v in asdict(plan).items()]),
        ),
    )


def _cell(figure_: Estimate) -> str:
    return number(figure_.value) + span(figure_.low, figure_.high)


def _dot(figure_: Estimate) -> Dot:
    return Dot(figure_.value, figure_.low, figure_.high)


def _headlines(result: MatrixResult) -> Iterator[str]:
    yield words(
        "Regret: what a reader loses, on a kind that it was not trained on, to the same trainer's "
        "reader of that kind's own games."
    )
    told = [each for each in result.headlines if each.rows == "all"]
    if told:
        rows = [(each.trainer, _dot(each.mean)) for each in told]
        picture = intervals(rows, "mean regret, bits", "Mean regret of each trainer")
        yield figure([picture], "Mean over all rows and kinds that do not know each other.")
    lines = [
        [escape(f"{each.trainer}, {each.rows}"), _cell(each.mean), _cell(each.worst),
         escape(" on ".join(each.worst_pair))]
        for each in result.headlines
    ]  # fmt: skip
    yield table(["trained, rows", "mean regret", "worst regret", "worst"], lines)
    yield words(
        "The worst of several figures is read off the same games, so chance makes it a little "
        "high.", quiet=True,
    )  # fmt: skip


def _trainer(result: MatrixResult, trainer: str) -> Iterator[str]:
    plan = result.plan
    cells = [cell for cell in result.cells if cell.trainer == trainer]
    held = {(cell.row, cell.kind): cell for cell in cells}
    values = [
        [held[row, kind].regret.value for kind in plan.columns] for row in plan.populations
    ]  # fmt: skip
    yield figure(
        [shaded(plan.populations, plan.columns, values, f"Regret of {trainer}")],
        "Regret in bits: trained on the row, tested on the column; darker is worse.",
    )
    rows = [
        [escape(f"{cell.row} on {cell.kind}"), _cell(cell.gain), _cell(cell.gain_own_base),
         _cell(cell.prior_shift), _cell(cell.regret), "yes" if cell.knows else "no"]
        for cell in cells
    ]  # fmt: skip
    yield table(
        ["trained on, tested on", "gain over the row's base", "gain over the kind's own base",
         "prior shift", "regret", "knows the kind"],
        rows,
    )  # fmt: skip
