"""A version's sounds as they are ordered, and how they are brought to their loudness."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from genex.lazy import lazy
from genex.recipe import Recipe
from genex.score import Score

if TYPE_CHECKING:
    from genex import audio
    from genex.audio import Measurement, Renderer, Sound
else:
    audio = lazy("genex.audio")

_NOT_HEARD = frozenset({"soundfont", "minus"})
"""Fields of ``audio`` by which no sound is another one; a soundfont is told by its content."""
_OF_MASTERING = frozenset({"loudness", "ceiling", "same_level"})


@dataclass(frozen=True)
class SoundOrder:
    """A sound to be made: name, kind, what is said meanwhile, length and maker.

    ``heard`` is the digest of what is rendered. ``follows_loop`` has the gain of the full loop where the
    recipe asks for the same level.
    """

    suffix: str
    kind: str
    said: str
    samples: int
    render: Callable[[Renderer], Sound]
    heard: Callable[[], str]
    loops: bool = True
    mastered: bool = True
    follows_loop: bool = False


def wishes_of(recipe: Recipe, order: SoundOrder) -> dict[str, Any]:
    """What a recipe says of how a sound is mastered and stored."""
    away = _NOT_HEARD if order.mastered else _NOT_HEARD | _OF_MASTERING
    return recipe.fields.audio.model_dump(exclude=set(away))


def mastered(
    recipe: Recipe, sound: Sound, score: Score, *, loop: bool, gain_db: float | None = None
) -> tuple[Sound, Measurement]:
    """A mix as wide and as loud as the recipe asks for, and what it then measures."""
    wanted = recipe.fields.audio
    sound.widen(wanted.width)
    return audio.master(
        sound,
        wanted.loudness,
        wanted.ceiling,
        loop=loop,
        gain_db=gain_db,
        most_levelling_db=audio.levelling_for(score.parts),
    )


def levels(measured: Measurement) -> dict[str, Any]:
    """What a manifest says of a sound's loudness and peaks."""
    return {
        "gain_db": round(measured.gain_db, 4),  # so finely that stems add up to the mix by it
        "integrated_lufs": _rounded(measured.integrated_lufs),
        "true_peak_dbtp": _rounded(measured.true_peak_dbtp),
        "limited_db": _rounded(measured.limited_db),
        "levelled_db": _rounded(measured.levelled_db),
    }


def _rounded(decibels: float | None) -> float | None:
    """Two decimals; silence has no level."""
    return None if decibels is None else round(decibels, 2)
