"""The log probability of choices as one operation of a PyTensor graph.

The operation gives the gradient together with the value, as a second output, so that a sampler
pays for both once. Compiled by numba it runs without the interpreter; ``perform`` serves every
other backend. Imported only where a model is put together, since it needs PyTensor and numba.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pytensor
from pytensor import tensor
from pytensor.gradient import DisconnectedType
from pytensor.graph.basic import Apply
from pytensor.graph.op import Op
from pytensor.link.numba.dispatch import numba_funcify

from handread.fitting.posterior.kernels import choices_log_prob
from handread.fitting.posterior.sparse import PARTS, SparseBlock

pt: Any = tensor  # only partly typed where it is installed at all


class ChoicesLogProb(Op):
    """Weighted log probability of all choices of a ``SparseBlock``, and its gradient.

    Inputs are the weights of each person, shape (n_people, n_names), and the parts of the block in
    the order of ``PARTS``; outputs a scalar, nats, and the gradient by the weights. The second
    output is there for the first one's gradient and has none of its own.
    """

    __props__ = ()

    def make_node(self, own: Any, *parts: Any) -> Apply:
        """Put the operation into a graph."""
        inputs = [pt.as_tensor_variable(each) for each in (own, *parts)]
        return Apply(self, inputs, [pt.dscalar(), pt.dmatrix()])

    def perform(self, node: Any, inputs: Any, output_storage: Any) -> None:
        """Carry it out in Python."""
        value, gradient = choices_log_prob(*inputs)
        output_storage[0][0] = np.asarray(value)
        output_storage[1][0] = gradient

    def connection_pattern(self, node: Any) -> list[list[bool]]:
        """Only the weights move the value; the gradient counts as moved by nothing."""
        return [[i == 0, False] for i in range(len(node.inputs))]

    # PyTensor calls its gradients by this name.
    def L_op(self, inputs: Any, outputs: Any, output_grads: Any) -> list[Any]:  # noqa: N802
        """Gradient by the weights: the second output, times what comes from above."""
        above = output_grads[0]
        if isinstance(above.type, DisconnectedType):
            first = inputs[0].zeros_like()
        else:
            first = above * outputs[1]
        return [first, *(DisconnectedType()() for _ in inputs[1:])]


@numba_funcify.register(ChoicesLogProb)
def _compiled(op: Any, node: Any = None, **kwargs: Any) -> Any:
    from numba import njit

    @njit
    def value_and_gradient(*inputs: Any) -> Any:
        value, gradient = choices_log_prob(*inputs)
        return np.asarray(value), gradient

    return value_and_gradient


_THROWS: Final = ChoicesLogProb()


def throws_log_prob(own: Any, block: SparseBlock) -> Any:
    """Weighted log probability of all choices of a block under symbolic weights.

    Parameters
    ----------
    own
        Weights of each person in the order of the block, a matrix (n_people, n_names).
    block
        The choices; shared with the graph, not copied into its code.
    """
    parts = [pytensor.shared(getattr(block, part), name=f"throws_{part}") for part in PARTS]
    return _THROWS(own, *parts)[0]
