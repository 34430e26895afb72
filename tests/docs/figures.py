"""Figures of README.md and DEVELOPERS.md, out of the results that ship under ``models/studies``.

Between ``<!-- figures: full gain -->`` and ``<!-- end of figures -->`` stands a table made from
``models/studies/full/summary.json``; ``python -m tests.docs.figures`` writes all of them afresh,
and a test compares them, so that no figure on a page is older than the result that it quotes.
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

ROOT: Final = Path(__file__).resolve().parents[2]
PAGES: Final = ("README.md", "DEVELOPERS.md")
_BLOCK = re.compile(
    r"<!-- figures: (?P<study>\S+) (?P<table>\S+) -->\n(?P<text>.*?)<!-- end of figures -->",
    re.DOTALL,
)
_PARTS: Final = {
    "all": "all moments", "own turn 4": "own turn 4", "own turn 8": "own turn 8",
    "own turn 12": "own turn 12", "own turn 16": "own turn 16", "exposures 0": "no group shown",
    "exposures 1": "one group", "exposures 2 or more": "two groups or more",
}  # fmt: skip
_READERS: Final = {
    "elimination": "careful elimination", "lore": "lore", "default": "fitted (default)",
    "peer": "peer", "pooled": "fitted and peer pooled", "rack oracle": "racks and style known",
    "rack oracle, style unknown": "racks known",
}  # fmt: skip
_HONESTY: Final = (
    ("power", "calibration power (1 when calibrated)", 2),
    ("honesty ratio", "honesty ratio (1 when honest)", 2),
    ("top-label error", "error of the top family, all moments", 4),
    ("50 % set: covered less stated", "50 % sets: held the truth, less what they stated", 3),
    ("80 % set: covered less stated", "80 % sets: held the truth, less what they stated", 3),
    ("95 % set: covered less stated", "95 % sets: held the truth, less what they stated", 3),
    ("lead above 0.5", "last own turns through which the truth keeps more than 0.5", 1),
    ("games with a wrong row above 0.5", "games in which a wrong row passed 0.5", 2),
    ("truth called impossible", "truths that had probability 0", 4),
)  # fmt: skip


@lru_cache(maxsize=8)
def study(name: str) -> dict[str, Any]:
    """A result that ships."""
    path = ROOT / "models" / "studies" / name / "summary.json"
    found: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return found


def line_of(found: Mapping[str, Any], reader: str, part: str, measure: str) -> Mapping[str, Any]:
    """One figure of a study; an empty mapping where there is none."""
    for line in found["lines"]:
        if (line["reader"], line["part"], line["measure"]) == (reader, part, measure):
            return dict(line)
    return {}


def cell(line: Mapping[str, Any], digits: int) -> str:
    """A figure with its interval."""
    if not line or line["value"] is None:
        return ""
    value, low, high = (f"{line[key]:.{digits}f}" for key in ("value", "low", "high"))
    if line["measure"] == "top-label error":  # its interval is that of a calibrated reader
        return f"{value} (by chance up to {high})"
    return f"{value} [{low}, {high}]"


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table in Markdown."""
    lines = [list(head), ["---"] * len(head), *map(list, rows)]
    return "".join(f"| {' | '.join(line)} |\n" for line in lines)


def gain(found: Mapping[str, Any]) -> str:
    """Gain in bits over base rates by stage, for every reader of interest in the study."""
    there = {line["reader"] for line in found["lines"]}
    few = found["plan"]["few"]
    readers = [name for name in _READERS if name in there and name not in few]
    rows = []
    for part, words in _PARTS.items():
        lines = [line_of(found, reader, part, "gain") for reader in readers]
        if any(lines):
            n = next(line["n_moments"] for line in lines if line)
            rows.append([words, f"{n:,}", *(cell(line, 2) for line in lines)])
    return table(["", "moments", *(_READERS[name] for name in readers)], rows)


def honesty(found: Mapping[str, Any]) -> str:
    """What lore and the default model know of how good they are."""
    rows = [
        [words, *(cell(line_of(found, reader, "all", measure), digits)
                  for reader in ("lore", "default"))]
        for measure, words, digits in _HONESTY
    ]  # fmt: skip
    for part, words in _PARTS.items():
        if part.startswith("exposures"):
            rows.append([
                f"error of the top family, {words}",
                *(cell(line_of(found, reader, part, "top-label error"), 3)
                  for reader in ("lore", "default")),
            ])  # fmt: skip
    return table(["", "lore", "fitted (default)"], rows)


def stages(found: Mapping[str, Any]) -> str:
    """Calibration of lore and the default model by stage."""
    head, rows = ["", "power, lore", "power, fitted", "error, lore", "error, fitted"], []
    for part, words in _PARTS.items():
        if part == "exposures 2 or more":
            part, words = "exposures 2", "two groups"
        lines = [
            (line_of(found, reader, part, measure), digits)
            for measure, digits in (("power", 2), ("top-label error", 3))
            for reader in ("lore", "default")
        ]
        rows.append([words, *(cell(*each) for each in lines)])
    return table(head, rows)


def kinds(found: Mapping[str, Any]) -> str:
    """Gain of lore and the default model at the seats of each kind of player."""
    parts = [line["part"] for line in found["lines"]
             if line["part"].startswith("kind ") and line["reader"] == "default"]  # fmt: skip
    rows = []
    for part in dict.fromkeys(parts):
        held = [line_of(found, reader, part, "gain") for reader in ("lore", "default")]
        less = dict(line_of(found, "lore", part, "gain over default"))
        turned = {"value": -less["value"], "low": -less["high"], "high": -less["low"]}
        error = line_of(found, "default", part, "top-label error")
        rows.append([
            part.removeprefix("kind "), *(cell(line, 2) for line in held),
            cell({**less, **turned}, 2), cell(error, 3),
        ])  # fmt: skip
    head = ["", "lore", "fitted (default)", "fitted less lore", "error of the top family, fitted"]
    return table(head, rows)


def oracles(found: Mapping[str, Any]) -> str:
    """Gain of what is known to those who see the racks, and the model on the same games."""
    names = [name for name in found["plan"]["few"] if name in _READERS]
    rows = []
    for part, words in _PARTS.items():
        lines = [line_of(found, name, part, "gain") for name in names]
        over = [line_of(found, name, part, "gain over default") for name in names]
        if any(lines):
            rows.append([words, f"{lines[0]['n_moments']:,}",
                         *(cell(line, 2) for line in (*lines, *over))])  # fmt: skip
    head = ["", "moments", *(_READERS[name] for name in names),
            *(f"{_READERS[name]}, less fitted" for name in names)]  # fmt: skip
    return table(head, rows)


def against(found: Mapping[str, Any]) -> str:
    """The fitted model less the peer, part by part of the same moments."""
    path = ROOT / "models" / "studies" / found["plan"]["name"] / "default-against-peer.csv"
    with path.open(encoding="utf-8", newline="") as lines:
        parts = list(csv.DictReader(lines))
    rows = [
        [f"{each['by']}: {each['part']}" if each["by"] != "all" else "all moments",
         f"{int(each['moments']):,}",
         f"{float(each['difference']):.3f} [{float(each['low']):.3f}, {float(each['high']):.3f}]",
         f"{float(each['better']):.2f}"]
        for each in parts if each["by"] != "groups shown"
    ]  # fmt: skip
    head = ["", "moments", "fitted less peer, bits", "games in which the fitted model is ahead"]
    return table(head, rows)


def inputs(found: Mapping[str, Any]) -> str:
    """What each thing written down is worth: the same reader told less, or more."""
    words = {
        "default less drawn": "not whether a throw was just drawn or held",
        "default less passes": "not the passes",
        "default less order": "the floor in no order, as if read at a glance",
        "default less 5 % of turns": "1 turn in 20 missed",
        "default less 20 % of turns": "1 turn in 5 missed",
        "default seated": "a seat at the table: own rack, draws and passes, too",
    }
    parts = ("all", "own turn 4", "own turn 8", "own turn 12", "own turn 16")
    rows = []
    for reader, said in words.items():
        lines = [line_of(found, reader, part, "gain over default") for part in parts]
        rows.append([said, f"{lines[0]['n_games']}", *(cell(line, 3) for line in lines)])
    head = ["what the reader is told", "games", "all four", *parts[1:]]
    return table(head, rows)


def matrix(found: Mapping[str, Any]) -> str:
    """What a reader fitted to all other kinds makes of each kind, and what its own reader does."""
    rows = []
    cells = {(c["trainer"], c["row"], c["kind"]): c for c in found["cells"]}
    for kind in dict.fromkeys(c["kind"] for c in found["cells"]):
        own, far = cells["fitted", kind, kind], cells["fitted", f"all but {kind}", kind]
        shown = (own["gain_own_base"], far["gain_own_base"], far["gain"], far["prior_shift"],
                 far["regret"])  # fmt: skip
        rows.append([kind, *(cell({**one, "measure": ""}, 2) for one in shown)])
    head = ["who is read", "own reader, over own base", "reader of the others, over own base",
            "the same over its own training base", "prior shift", "regret"]  # fmt: skip
    return table(head, rows)


def regrets(found: Mapping[str, Any]) -> str:
    """Mean and worst regret of readers to the reader of the kind's own games."""
    rows = []
    for line in found["headlines"]:
        if line["rows"] == "all" or line["trainer"] == "base rates":
            continue
        row, kind = line["worst_pair"]
        mean, worst = (cell({**line[name], "measure": ""}, 2) for name in ("mean", "worst"))
        rows.append([line["trainer"], line["rows"], mean, worst, f"{row} on {kind}"])
    return table(["trainer", "trained on", "mean regret", "worst regret", "worst pair"], rows)


def matrix_source(found: Mapping[str, Any]) -> str:
    """Where the figures of a matrix come from."""
    plan = found["plan"]
    return (
        f"`data/studies/{plan['name']}.toml`, master seed {plan['seed']}: {plan['training']:,} "
        f"training games a row, {plan['test']:,} test games a kind, card {plan['card']}; bits, "
        "95 % intervals, clustered by game.\n"
    )


def source(found: Mapping[str, Any]) -> str:
    """Where the figures come from, in a sentence."""
    plan, made = found["plan"], found["made_with"]
    return (
        f"`data/studies/{plan['name']}.toml`, master seed {plan['seed']}: {plan['test']:,} test "
        f"games, population *{made['population']}* (hash {made['population_hash']}), card "
        f"{plan['card']}; 95 % intervals, clustered by game.\n"
    )


TABLES: Final[Mapping[str, Callable[[Mapping[str, Any]], str]]] = {
    "gain": gain, "honesty": honesty, "source": source, "stages": stages, "kinds": kinds,
    "oracles": oracles, "against": against, "inputs": inputs, "matrix": matrix, "regrets": regrets,
    "matrix-source": matrix_source,
}  # fmt: skip


def refresh(markdown: str) -> str:
    """The same page with every table of figures as the results have it."""

    def again(block: re.Match[str]) -> str:
        made = TABLES[block["table"]](study(block["study"]))
        head = f"<!-- figures: {block['study']} {block['table']} -->\n"
        return f"{head}\n{made}\n<!-- end of figures -->"

    return _BLOCK.sub(again, markdown)


if __name__ == "__main__":
    for name in PAGES:
        page = ROOT / name
        page.write_text(refresh(page.read_text(encoding="utf-8")), encoding="utf-8")
