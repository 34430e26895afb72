"""Boosted trees as plain arrays: read and used without the package that grew them.

Stored as an ``.npz`` of numbers, read with ``allow_pickle=False``, so a file from elsewhere can
say something wrong and cannot run anything.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError
from handread.study.peer.kernels import leaf_sums
from handread.values import ArrayValue

Array = NDArray[np.float64]

_NODES = ("feature", "threshold", "missing_left", "left", "right", "value")


@dataclass(frozen=True, eq=False)
class Trees(ArrayValue):
    """A classifier that adds up leaves of trees.

    Attributes
    ----------
    classes
        Label of each class, shape (n_classes,).
    start
        Score of each class before any tree, shape (n_classes,).
    first
        First node of each tree, shape (n_trees,); tree i speaks for class i modulo n_classes.
    feature
        Feature that a node asks for, shape (n_nodes,).
    threshold
        Rows at or below it go left, shape (n_nodes,).
    missing_left
        Whether rows without the feature go left, shape (n_nodes,).
    left, right
        Next node, counted from the tree's first; -1 in a leaf, shape (n_nodes,).
    value
        What a leaf adds to the score, shape (n_nodes,).
    """

    classes: NDArray[np.int64]
    start: Array
    first: NDArray[np.int64]
    feature: NDArray[np.int16]
    threshold: Array
    missing_left: NDArray[np.bool_]
    left: NDArray[np.int32]
    right: NDArray[np.int32]
    value: Array

    def probabilities(self, rows: NDArray[np.float32]) -> Array:
        """Probability of each class, shape (n_rows, n_classes).

        Parameters
        ----------
        rows
            Features, NaN where missing, shape (n_rows, n_features).
        """
        score = self.start + leaf_sums(
            np.ascontiguousarray(rows, dtype=np.float32), self.first, self.feature,
            self.threshold, self.missing_left, self.left, self.right, self.value,
            len(self.classes),
        )  # fmt: skip
        score -= score.max(axis=1, keepdims=True)
        prob = np.exp(score)
        return np.asarray(prob / prob.sum(axis=1, keepdims=True))

    def up_to(self, iterations: int) -> Trees:
        """Return the trees of the first iterations, one a class in each.

        Parameters
        ----------
        iterations
            At least 1.
        """
        n_trees = iterations * len(self.classes)
        n_nodes = int(self.first[n_trees]) if n_trees < len(self.first) else len(self.left)
        nodes = {name: getattr(self, name)[:n_nodes] for name in _NODES}
        return Trees(self.classes, self.start, self.first[:n_trees], **nodes)

    def to_bytes(self) -> bytes:
        """Return the arrays as the content of an ``.npz`` file; ``trees_from`` takes it back."""
        out = io.BytesIO()
        np.savez_compressed(out, **{name: getattr(self, name) for name in self._names()})
        return out.getvalue()

    @staticmethod
    def _names() -> tuple[str, ...]:
        return ("classes", "start", "first", *_NODES)


def trees_from(content: bytes, place: str) -> Trees:
    """Read trees from the content of an ``.npz`` file.

    Parameters
    ----------
    content
        What ``Trees.to_bytes`` gave.
    place
        Where it was found, for the message.

    Raises
    ------
    HandreadError
        If it is something else, holds objects, or its nodes lead nowhere.
    """
    try:
        with np.load(io.BytesIO(content), allow_pickle=False) as held:
            trees = Trees(**{name: held[name] for name in Trees._names()})
    except (ValueError, OSError, KeyError, EOFError) as error:
        raise HandreadError(f"{place} holds no trees: {error}") from None
    _check(trees, place)
    return trees


def _check(trees: Trees, place: str) -> None:
    """Refuse nodes that lead out of their tree or back, which would never come to an end."""
    n_nodes = len(trees.left)
    last = np.append(trees.first[1:], n_nodes)
    tree = np.searchsorted(trees.first, np.arange(n_nodes), side="right") - 1
    inner = trees.left >= 0
    here = np.arange(n_nodes) - trees.first[tree]
    size = (last - trees.first)[tree]
    for to in (trees.left[inner], trees.right[inner]):
        if (to <= here[inner]).any() or (to >= size[inner]).any():
            raise HandreadError(f"{place}: nodes lead out of their tree, or back")
    if len(trees.first) % max(len(trees.classes), 1) or trees.feature.min(initial=0) < 0:
        raise HandreadError(f"{place}: {len(trees.first)} trees for {len(trees.classes)} classes")


def trees_of(model: Any) -> Trees:
    """Take the trees out of a fitted scikit-learn classifier.

    Parameters
    ----------
    model
        A ``HistGradientBoostingClassifier`` with three classes or more and no categorical feature.

    Raises
    ------
    HandreadError
        If it has two classes.

    Notes
    -----
    The nodes are no public interface of scikit-learn, so whoever calls this compares the
    probabilities with the package's own, as ``train_peer`` does.
    """
    classes = np.asarray(model.classes_, dtype=np.int64)
    if len(classes) < 3:
        raise HandreadError(f"{len(classes)} classes; accepted: 3 or more")
    nodes = [tree.nodes for iteration in model._predictors for tree in iteration]
    sizes = [len(each) for each in nodes]
    flat = np.concatenate(nodes)
    leaf = flat["is_leaf"].astype(bool)
    return Trees(
        classes=classes,
        start=np.asarray(model._baseline_prediction, dtype=np.float64).ravel(),
        first=np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.int64),
        feature=np.where(leaf, 0, flat["feature_idx"]).astype(np.int16),
        threshold=np.where(leaf, 0.0, flat["num_threshold"]),
        missing_left=flat["missing_go_to_left"].astype(np.bool_),
        left=np.where(leaf, -1, flat["left"].astype(np.int64)).astype(np.int32),
        right=np.where(leaf, -1, flat["right"].astype(np.int64)).astype(np.int32),
        value=np.where(leaf, flat["value"], 0.0),
    )
