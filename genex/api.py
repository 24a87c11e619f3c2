"""genex for Python programs: read a recipe, compose it, hear it, write its files.

``import genex`` hands these functions out and loads them at their first use; the page ``python`` of
the documentation (``genex docs python``) shows each at work. Nothing here prints, and every error
is one of ``genex.errors``. What comes out is what the command line writes, bit for bit.
"""

from __future__ import annotations

from dataclasses import replace
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, cast, get_args

import numpy as np

from genex.audio import CEILING_DBTP, DEFAULT_RATE_HZ, TARGET_LUFS, Renderer, levelling_for, master
from genex.compose import Composer, Composition, compose, usual_of_feel
from genex.errors import InputError
from genex.exercises.recipe_words import OutputName
from genex.hints import did_you_mean
from genex.publishing.jobs import build_one
from genex.publishing.maker import Job, files_of, prepare, prepare_whole
from genex.publishing.workshop import seldom_collecting
from genex.recipe import Recipe, Series, other_version, parse_lessons, read_lessons
from genex.resources import default_soundfont, user_cache_dir
from genex.score import Score

if TYPE_CHECKING:
    from numpy.typing import NDArray

_NEEDS = {
    "tab": "a tab needs a line: give the recipe an 'exercise' or a 'guide'",
    "answers": "answers come with calls and drills: see 'genex docs exercises'",
    "band": "the band alone differs from the loop where there is an 'exercise' or a 'guide'",
    "": "leave it away, or give the recipe what it is made of",
}
AnyPath = str | PathLike[str]


def read_recipe(path: AnyPath) -> Recipe:
    """Read and validate the recipe of one lesson.

    Raises RecipeError with file, line, column and hint; InputError for a series of lessons.
    """
    return _one_lesson(read_lessons(Path(path), usual_of_feel))


def parse_recipe(text: str, file: AnyPath = "recipe.yaml") -> Recipe:
    """As ``read_recipe``, from text.

    ``file`` stands in messages, names a recipe without a title, and files that the recipe names
    (a groove file, a phrase, a soundfont) are looked for beside it.
    """
    return _one_lesson(parse_lessons(text, str(file), usual_of_feel))


@seldom_collecting()
def compose_recipe(
    recipe: Recipe, *, key: str | None = None, tempo: float | None = None, ending: bool = False
) -> Composition:
    """The music of a recipe: ``score``, and for calls and drills ``cues`` and ``answers``.

    key     such as ``Bb``, of the recipe's own mode; the recipe's (first) key if left away
    tempo   in beats of the meter a minute; the recipe's (first) tempo if left away
    ending  end on the last bar, as the full take does, instead of leading back to the first

    Raises InputError, with its place in the recipe where it has one, and for a lesson of several
    exercises: ``recipe.exercises`` are the recipes of these.
    """
    if recipe.exercises:
        raise InputError(
            f"'{recipe.title}' consists of several exercises", hint="compose each of recipe.exercises"
        )
    version = other_version(recipe.key, recipe.versions[0], key, tempo)
    return compose(recipe, version, ending=ending)


def render_score(
    score: Score,
    *,
    rate_hz: int = DEFAULT_RATE_HZ,
    take: bool = False,
    loudness_lufs: float | None = TARGET_LUFS,
    ceiling_dbtp: float = CEILING_DBTP,
    soundfont: AnyPath | None = None,
) -> NDArray[np.float32]:
    """The sound of a score: shape ``(n_samples, 2)``, full scale at ±1.

    As a loop it is exactly as long as its bars, and what rings over the end sounds at the start;
    as a ``take`` it has the count-in before it and rings out. ``loudness_lufs`` is the integrated
    loudness, with true peaks under ``ceiling_dbtp``; None leaves the mix as it is.

    Raises SoundfontError or SynthesizerError.
    """
    font = default_soundfont() if soundfont is None else Path(soundfont)
    with Renderer(font, rate_hz, user_cache_dir()) as renderer:
        sound = renderer.take(score) if take else renderer.loop(score)
    if loudness_lufs is not None:
        most_db = levelling_for(score.parts)
        sound, _ = master(sound, loudness_lufs, ceiling_dbtp, loop=not take, most_levelling_db=most_db)
    return np.ascontiguousarray(sound.samples)


@seldom_collecting()
def lesson_files(recipe: Recipe, *outputs: str, soundfont: AnyPath | None = None) -> dict[str, bytes]:
    """Files of a lesson by their names, such as ``lesson_files(recipe, "midi", "tab")``.

    ``outputs`` are words that the recipe's field ``outputs`` has; with none, all that the recipe
    asks for. Of a recipe with several keys or tempos, the files of each; of a lesson of several
    exercises those of all exercises and of the whole. Raises InputError, also for a word in
    ``outputs`` that makes no file of this recipe.
    """
    if recipe.exercises and not outputs:
        jobs = [prepare(exercise) for exercise in recipe.exercises]
        jobs.append(prepare_whole(recipe, [job.piece for job in jobs]))
        found: dict[str, bytes] = {}
        for job in jobs:
            found |= _files(job, soundfont) if job.recipe.outputs else {}
        return found
    if outputs:
        recipe = replace(recipe, outputs=tuple(map(_output, outputs)))
    job = prepare(recipe)
    for word in dict.fromkeys(map(_output, outputs)):
        asked = replace(job, recipe=replace(recipe, outputs=(word,)))
        if not asked.writer(recipe.versions[0], job.piece, Composer(recipe), None, print).outline():
            raise InputError(
                f"'{word}' makes no file of '{recipe.title}'", hint=_NEEDS.get(word, _NEEDS[""])
            )
    return _files(job, soundfont)


def _files(job: Job, soundfont: AnyPath | None) -> dict[str, bytes]:
    """The files of a job by their names."""
    made = files_of(job, None if soundfont is None else Path(soundfont))
    return {file.name: data for file, data in made}


def write_lesson(
    recipe: Recipe | AnyPath,
    out: AnyPath = "lessons",
    *,
    soundfont: AnyPath | None = None,
    processes: int = 1,
) -> list[Path]:
    """Write a lesson, or all of a series, below the folder ``out``, as ``genex build`` does.

    A path names the file of a recipe or a series. Returns the files written. Several ``processes``
    are quicker where there are several keys, tempos or lessons; outside Linux the program must then
    be one that can be imported (``if __name__ == "__main__":``), as ``multiprocessing`` asks for.

    Raises GenexError; then no lesson is left half written.
    """
    read = recipe if isinstance(recipe, Recipe) else read_lessons(Path(recipe), usual_of_feel)
    font = None if soundfont is None else Path(soundfont)
    return build_one(read, Path(out), soundfont=font, processes=processes)


def _one_lesson(read: Recipe | Series) -> Recipe:
    if isinstance(read, Series):
        raise InputError(
            f"{read.source.file} is a series of lessons",
            hint="write_lesson makes all of it; read_recipe reads one of its recipes",
        )
    return read


def _output(word: str) -> OutputName:
    known = get_args(OutputName)
    if word not in known:
        raise InputError(f"there is no output '{word}'", hint=did_you_mean(word, known))
    return cast(OutputName, word)
