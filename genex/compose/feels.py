"""What a recipe and its feel say of each other: usual meter and tempo, and tempos that do not suit."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from genex.band import BAND_PARTS, Groove, all_grooves, load_groove
from genex.compose.exercises import tempo_steps
from genex.compose.piece import recipe_groove
from genex.errors import Place
from genex.exact import Fraction
from genex.recipe import Recipe, Usual
from genex.score import Part

_SOUND = {"loop", "band", "take", "stems"}


def usual_of_feel(name: str, place: Place) -> Usual:
    """The meter and tempo of a feel, written at a place in a recipe. Raises GrooveError."""
    groove = load_groove(name, place, folder=Path(place.file).parent)
    return Usual(groove.meters[0] if groove.meters else None, groove.tempo_usual)


def tempo_note(recipe: Recipe) -> str | None:
    """One line on the tempos of a recipe that its feel is not made for; None if all are in range.

    Begins with the place of the tempo. Raises InputError where the feel cannot be found.
    """
    if not set(BAND_PARTS) & set(recipe.parts):
        return None
    groove = recipe_groove(recipe)
    tempos = _tempos(recipe)
    low, high = groove.tempo_low, groove.tempo_high
    slow = [tempo for tempo in tempos if tempo < low]
    fast = [tempo for tempo in tempos if tempo > high]
    if not slow and not fast:
        return None
    outside = " and ".join(_span(found) for found in (slow, fast) if found)
    return (
        f"{_place(recipe)}: note: tempo {outside} lies outside {low:g} to {high:g}, "
        f"which the feel '{groove.name}' is made for; {_others(recipe, groove, tempos)}"
    )


def click_note(recipe: Recipe, parts: Iterable[Part]) -> str | None:
    """One line where sound is asked for and a click is all that sounds; else None."""
    if not _SOUND & set(recipe.outputs) or not all(part.is_click for part in parts):
        return None
    return (
        f"{_place(recipe)}: note: a click alone can stay quieter than "
        f"{recipe.fields.audio.loudness:g} LUFS: its strokes are too short to be that loud unharmed"
    )


def _tempos(recipe: Recipe) -> Sequence[Fraction]:
    """Every tempo that is played, in pulses of the meter, in ascending order."""
    steps = recipe.fields.tempo_steps
    if steps is not None:
        return sorted(tempo_steps(steps).tempos)
    return sorted({version.tempo for version in recipe.versions})


def _place(recipe: Recipe) -> Place:
    """Where the tempo is written, or the feel if it is not."""
    for name in ("tempo_steps", "tempos", "tempo", "feel", "meter"):
        if recipe.source.says((name,)):
            return recipe.place(name)
    return Place(recipe.source.file)


def _span(tempos: Sequence[Fraction]) -> str:
    """The lowest and the highest of some tempos."""
    first, last = float(tempos[0]), float(tempos[-1])
    return f"{first:g}" if first == last else f"{first:g} to {last:g}"


def _others(recipe: Recipe, groove: Groove, tempos: Sequence[Fraction]) -> str:
    """The feels that suit all of some tempos in the recipe's meter."""
    names = [
        other.name
        for other in all_grooves()
        if other.name != groove.name
        and recipe.meter in other.meters
        and all(other.suits_tempo(float(tempo)) for tempo in tempos)
    ]
    if not names:
        return f"no other feel in {recipe.meter} suits"
    return f"in {recipe.meter} these suit: {', '.join(names)}"
