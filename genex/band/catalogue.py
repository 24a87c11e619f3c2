"""The feels there are: groove files in the package, and a player's own."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from genex.band.groove import Groove
from genex.errors import GrooveError, Place, RecipeError
from genex.hints import did_you_mean
from genex.inputs import note_missing
from genex.lazy import lazy
from genex.score import Meter
from genex.text.yaml_source import read_source

if TYPE_CHECKING:
    from genex.band import groove_files
else:
    groove_files = lazy("genex.band.groove_files")  # it needs pydantic, which chords do not

_FOLDER = Path(__file__).parent / "grooves"
_SUFFIXES = (".yaml", ".yml")


@lru_cache(maxsize=1)
def groove_names() -> tuple[str, ...]:
    """Names of the feels that come with genex, in alphabetical order. Reads no file."""
    return tuple(sorted(path.stem for path in _FOLDER.glob("*.yaml")))


def load_groove(
    name_or_path: str | Path, place: Place | None = None, *, folder: Path | None = None
) -> Groove:
    """A feel by name, or from a player's own groove file (a path that ends in .yaml).

    ``place`` is where the name was written; ``folder`` is what a relative path refers to. Raises
    GrooveError or RecipeError.
    """
    text = str(name_or_path)
    if isinstance(name_or_path, Path) or text.endswith(_SUFFIXES) or "/" in text:
        path = Path(text) if folder is None else folder / text
        if not _is_there(path):
            note_missing(path)
            raise GrooveError(
                f"there is no groove file '{text}'",
                hint="write the path as seen from the recipe, such as ./my-groove.yaml",
                place=place,
            )
        return _read(path)
    name = text.strip().lower().replace("_", "-").replace(" ", "-")
    if name not in groove_names():
        titled = (
            groove.name for groove in all_grooves() if groove.title.lower() == text.strip().lower()
        )
        hint = did_you_mean(next(titled, name), groove_names())
        raise GrooveError(f"there is no feel '{text}'", hint=hint, place=place)
    return _built_in(name)


@lru_cache(maxsize=64)
def _built_in(name: str) -> Groove:
    return _read(_FOLDER / f"{name}.yaml")


def _is_there(path: Path) -> bool:
    """Whether there is something of that name that can be reached."""
    try:
        return path.exists()
    except (OSError, ValueError):  # a folder that may not be entered; a null character
        return False


def _read(path: Path) -> Groove:
    try:
        source = read_source(path)
    except RecipeError as error:
        raise GrooveError(error.message, hint=error.hint, place=error.place) from None
    return groove_files.groove_of(source, groove_files.stem_of(path))


def groove_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a groove file."""
    return groove_files.groove_schema()


def all_grooves() -> tuple[Groove, ...]:
    """Every feel that comes with genex."""
    return tuple(load_groove(name) for name in groove_names())


def grooves_for(meter: Meter) -> tuple[str, ...]:
    """Names of the feels that have patterns for a meter."""
    return tuple(groove.name for groove in all_grooves() if groove.fits(meter))


def require_meter(groove: Groove, meter: Meter, place: Place | None = None) -> None:
    """Raise GrooveError where a feel has no patterns for a meter; the hint names those that have."""
    if groove.fits(meter):
        return
    fitting = grooves_for(meter)
    hint = f"for {meter} there are: {', '.join(fitting)}" if fitting else f"no feel is made for {meter}"
    own = " or ".join(map(str, groove.meters))
    hint += f"; '{groove.name}' is played in {own}, also where no meter is written"
    raise GrooveError(f"the feel '{groove.name}' has no pattern for {meter}", hint=hint, place=place)
