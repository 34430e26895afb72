"""Compiled kinds of player.

A module of this folder with a value ``POLICY`` is one kind; adding one changes no other file.
"""

from __future__ import annotations

import importlib
import pkgutil
from typing import Final

from handread.simulate.fast.policies.policy import Policy

__all__ = ["POLICIES", "Policy"]


def _found() -> tuple[Policy, ...]:
    names = [module.name for module in pkgutil.iter_modules(__path__)]
    modules = [importlib.import_module(f"{__name__}.{name}") for name in names]
    return tuple(module.POLICY for module in modules if hasattr(module, "POLICY"))


#: Every compiled kind.
POLICIES: Final = _found()
