"""Libraries that cost a start half a second and more, and that most requests never need."""

from __future__ import annotations

import importlib.util
import sys
from types import ModuleType


def at_first_use(name: str) -> ModuleType:
    """A module that loads when it is first asked for something. Raises ImportError when it isn't installed."""
    spec = importlib.util.find_spec(name)
    if spec is None or spec.loader is None:
        raise ImportError(f"{name} is not installed")
    spec.loader = importlib.util.LazyLoader(spec.loader)
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module
