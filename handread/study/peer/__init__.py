"""A discriminative peer: boosted trees on features of the public record, without any model.

What a data scientist would reach for. It knows nothing of plans, racks or rules; what it reads
better than the model, the model could learn. It enters studies as a forecaster like any other.
"""

from handread.study.peer.features import FEATURES, FeatureKeeper, feature_names, with_sums
from handread.study.peer.forecaster import Peer, peer_of
from handread.study.peer.symmetry import kind_symmetries
from handread.study.peer.training import CurvePoint, PeerPlan, train_peer
from handread.study.peer.trees import Trees, trees_of

__all__ = [
    "FEATURES", "CurvePoint", "FeatureKeeper", "Peer", "PeerPlan", "Trees", "feature_names",
    "kind_symmetries", "peer_of", "train_peer", "trees_of", "with_sums",
]  # fmt: skip
