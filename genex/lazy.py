"""Modules that are executed at their first use. Imports nothing of genex.

For rooms that many commands can do without: what is not used costs no time. To a type checker and
to the check of the layering such a module is imported as any other, under ``TYPE_CHECKING``.
"""

import importlib.util
import sys
from types import ModuleType


def lazy(name: str) -> ModuleType:
    """The module of that name, executed when it is first used (``importlib.util.LazyLoader``)."""
    if name in sys.modules:
        return sys.modules[name]
    spec = importlib.util.find_spec(name)
    if spec is None or spec.loader is None:
        raise ModuleNotFoundError(f"No module named {name!r}", name=name)
    loader = importlib.util.LazyLoader(spec.loader)
    spec.loader = loader
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    loader.exec_module(module)
    parent, _, child = name.rpartition(".")
    if parent:
        setattr(sys.modules[parent], child, module)  # as an import does
    return module
