"""genex: one recipe in, a whole guitar lesson out.

    recipe = genex.read_recipe("rain.yaml")
    score = genex.compose_recipe(recipe).score
    samples = genex.render_score(score)

Importing this package defines the version and names what there is; all of it is loaded at its first
use (PEP 562), so that ``import genex`` costs nothing and has no side effect.
"""

__version__ = "0.2.0"
TYPE_CHECKING = False  # as typing has it, which is not imported for that

if TYPE_CHECKING:
    from genex.api import (
        compose_recipe,
        lesson_files,
        parse_recipe,
        read_recipe,
        render_score,
        write_lesson,
    )
    from genex.compose import Composition
    from genex.errors import GenexError, InputError
    from genex.recipe import Recipe
    from genex.score import Note, Part, Score

__all__ = [
    "Composition",
    "GenexError",
    "InputError",
    "Note",
    "Part",
    "Recipe",
    "Score",
    "__version__",
    "compose_recipe",
    "lesson_files",
    "parse_recipe",
    "read_recipe",
    "render_score",
    "write_lesson",
]


if not TYPE_CHECKING:
    _ROOMS = {
        "genex.api": (
            "compose_recipe",
            "lesson_files",
            "parse_recipe",
            "read_recipe",
            "render_score",
            "write_lesson",
        ),
        "genex.compose": ("Composition",),
        "genex.errors": ("GenexError", "InputError"),
        "genex.recipe": ("Recipe",),
        "genex.score": ("Note", "Part", "Score"),
    }

    def __getattr__(name: str):
        """Load what the face hands out when it is first asked for."""
        from importlib import import_module

        for room, names in _ROOMS.items():
            if name in names:
                globals()[name] = getattr(import_module(room), name)
                return globals()[name]
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")

    def __dir__() -> list[str]:
        return sorted({*globals(), *__all__})
