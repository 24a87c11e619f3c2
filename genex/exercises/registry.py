"""Every kind of exercise by its name: genex's own, and those of installed packages.

A package offers a kind by an entry point of the group ``genex.exercises``, whose name is the kind's
and whose value is its class: ``bends = "my_package.bends:Bends"``. Entry points are read only when
a kind is asked for that genex does not have itself, or all of them are.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules, resolve_name
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeVar

from genex.errors import ExercisePackageError
from genex.exercises import models as _own
from genex.exercises.exercise import Exercise

if TYPE_CHECKING:
    from importlib.metadata import EntryPoint

GROUP = "genex.exercises"
_Model = TypeVar("_Model", bound=type[Exercise])
_registered: dict[str, type[Exercise]] = {}


def register(model: _Model) -> _Model:
    """Make a kind of exercise known: decorates its class. ValueError for a name that is taken."""
    name = kind_of(model)
    if _registered.setdefault(name, model) is not model:
        raise ValueError(f"'{name}' is {_registered[name]} already, and cannot be {model}")
    return model


def kind_of(model: type[Exercise]) -> str:
    """The word that recipes have for a kind."""
    return str(model.model_fields["kind"].default)


def find_kind(name: str) -> type[Exercise] | None:
    """The model of a kind, None where there is no such kind. Raises ExercisePackageError."""
    if name not in _registered:
        _register_own()
    if name not in _registered and name in (offered := _offered()):
        register(_loaded(offered[name]))
    return _registered.get(name)


def kind_names() -> tuple[str, ...]:
    """The names of all kinds in alphabetical order; no package is loaded."""
    _register_own()
    return tuple(sorted({*_registered, *_offered()}))


def kinds() -> Mapping[str, type[Exercise]]:
    """Every kind by its name: those over the recipe's chart first, then those with one of their own.

    Raises ExercisePackageError for one that cannot be loaded.
    """
    found = {name: model for name in kind_names() if (model := find_kind(name)) is not None}
    return MappingProxyType(dict(sorted(found.items(), key=lambda item: item[1].has_own_chart)))


def composing_function(model: type[Exercise]) -> Callable[..., Any]:
    """The function that composes a kind. Raises ExercisePackageError."""
    try:
        function: Callable[..., Any] = resolve_name(model.composed_by)
    except (ImportError, AttributeError) as error:
        raise _broken(kind_of(model), model.__module__.partition(".")[0], error) from error
    return function


def sources_of(model: type[Exercise]) -> tuple[Path, ...]:
    """The files with the code of a kind that a package has: another kind when they change.

    None for genex's own. Raises ExercisePackageError.
    """
    names = {model.__module__, composing_function(model).__module__}
    files = [sys.modules[name].__file__ for name in sorted(names) if not name.startswith("genex.")]
    return tuple(Path(file) for file in files if file is not None)


def _register_own() -> None:
    """Import the modules of ``models/``, whose classes register themselves."""
    for module in iter_modules(_own.__path__):
        import_module(f"{_own.__name__}.{module.name}")


def _offered() -> dict[str, EntryPoint]:
    """What installed packages offer, by the kind's name."""
    from importlib.metadata import entry_points

    return {entry.name: entry for entry in entry_points(group=GROUP)}


def _loaded(entry: EntryPoint) -> type[Exercise]:
    package = entry.dist.name if entry.dist is not None else entry.module
    try:
        model = entry.load()
    except Exception as error:  # whatever a foreign module may raise as it is imported
        raise _broken(entry.name, package, error) from error
    if not (isinstance(model, type) and issubclass(model, Exercise) and kind_of(model) == entry.name):
        raise _broken(entry.name, package, f"'{entry.value}' is not an exercise of that kind")
    return model


def _broken(name: str, package: str, reason: object) -> ExercisePackageError:
    return ExercisePackageError(
        f"the exercise '{name}' of the package '{package}' cannot be loaded: {reason}",
        hint=f"update the package '{package}', or remove it",
    )
