"""What ``genex check`` answers of a recipe that is in order."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from genex.compose import click_note, last_chord, recipe_groove, recipe_tuning, tempo_note
from genex.lazy import lazy
from genex.publishing.harmony_table import keys_line
from genex.publishing.outlook import Outlook
from genex.publishing.own_shapes import book_notes, book_tuning, lesson_notes
from genex.publishing.units import Unit
from genex.recipe import Recipe, Series
from genex.score import Role, Score

if TYPE_CHECKING:
    from genex.lines import measures
else:
    measures = lazy("genex.lines.measures")


def check_answer(unit: Unit, much: Outlook) -> dict[str, Any]:
    """A lesson or a series, and how much it will be, as data."""
    about: dict[str, Any] = {"recipe": str(unit.request.recipe), "ok": True}
    about |= {"slug": unit.source.slug, "title": unit.source.title}
    music = {recipe.slug: (recipe, piece) for work in unit.lessons for recipe, piece in work.job.music}
    if isinstance(unit.source, Series):
        about |= {"lessons": unit.folders, "book": [str(chord) for chord in unit.source.chords]}
    elif unit.source.exercises:
        about["exercises"] = [
            {"slug": recipe.slug, "title": recipe.title, **_music(recipe, piece.score, unit)}
            for _, (recipe, piece) in sorted(music.items())
        ]
        about["outputs"] = list(unit.source.outputs)
    else:
        (one,) = music.values()
        about |= _music(one[0], one[1].score, unit)
    return about | {
        "outlook": much.as_json(),
        "will_be": str(much),
        "inherited": unit.inherited,
        "notes": notes_on(unit),
    }


def _music(recipe: Recipe, score: Score, unit: Unit) -> dict[str, Any]:
    """What a piece is like."""
    with unit.inputs.active():
        groove = recipe_groove(recipe)
    tempos = [float(change.pulses(recipe.meter)) for change in score.tempo.changes]
    end = last_chord(recipe, score.timeline)
    return {
        "key": str(recipe.versions[0].key),
        "meter": str(recipe.meter),
        "tempo": tempos[0],
        "last_tempo": tempos[-1],
        "versions": len(recipe.versions),
        "feel": score.feel,
        "feel_tempo": {"from": groove.tempo_low, "to": groove.tempo_high},
        "bars": len(score.timeline.bars),
        "pickup": score.pickup_value or None,
        "keys": keys_line(score.timeline) if score.timeline.has_chords else None,
        "take_ends_on": None if end is None else str(end),
        "lines": _lines(score),
        "parts": [part.name for part in score.parts],
        "outputs": list(recipe.outputs),
    }


def _lines(score: Score) -> dict[str, str]:
    """What the lead parts that improvise amount to, in numbers."""
    return {
        part.name: str(measures.figures_of(score.timeline, part.notes))
        for part in score.parts
        if part.role is Role.LEAD and part.notes
    }


def notes_on(unit: Unit) -> list[str]:
    """What a recipe's author should know though nothing is wrong, a line each."""
    music = [one for work in unit.lessons for one in work.job.music]
    with unit.inputs.active():
        found = [tempo_note(recipe) for recipe, _ in music]
        for recipe, piece in music:
            score = piece.score
            found.append(click_note(recipe, score.parts))
            found += lesson_notes(recipe, score.timeline, recipe_tuning(recipe))
        if unit.series is not None and unit.series.chords:
            found += book_notes(unit.series, book_tuning(unit.series))
    return list(dict.fromkeys(text for text in found if text is not None))


def check_line(answer: dict[str, Any]) -> str:
    """What is said of a recipe that is in order: what it is, and how much it will be."""
    begin, end = f"{answer['recipe']}: in order: {answer['title']}", f"\n  {answer['will_be']}"
    if "lessons" in answer:
        count, chords = len(answer["lessons"]), len(answer["book"])
        lessons = f", {count} lesson{'s' if count != 1 else ''}" if count else ""
        book = f", a book of {chords} chord{'s' if chords != 1 else ''}" if chords else ""
        return begin + lessons + book + _inherited_lines(answer) + end
    if "exercises" in answer:
        listed = answer["exercises"]
        exercises = "".join(f"\n  {one['slug']}: {_told(one)}" for one in listed)
        several = f", {len(listed)} exercise{'s' if len(listed) != 1 else ''}"
        return begin + several + exercises + _inherited_lines(answer) + end
    lines = "".join(f"\n  {name}: {text}" for name, text in answer["lines"].items())
    return f"{begin}, {_told(answer)}{_harmony_line(answer)}{lines}{_inherited_lines(answer)}{end}"


def _told(music: dict[str, Any]) -> str:
    """A piece in a line: ``4 bars of 4/4 in F major, Medium swing at 126 (made for 90 to 210)``."""
    bars, tempo = music["bars"], f"{music['tempo']:g}"
    if music["last_tempo"] != music["tempo"]:
        tempo += f" to {music['last_tempo']:g}"
    pickup = f" with a pickup of {music['pickup']}" if music["pickup"] else ""
    return (
        f"{bars} bar{'s' if bars != 1 else ''} of {music['meter']}{pickup} in {music['key']}, "
        f"{music['feel']} at {tempo}"
        f" (made for {music['feel_tempo']['from']:g} to {music['feel_tempo']['to']:g})"
        + (f", and {music['versions'] - 1} more keys and tempos" if music["versions"] > 1 else "")
    )


def _inherited_lines(answer: dict[str, Any]) -> str:
    """A line for each defaults file that something comes from."""
    return "".join(
        f"\n  from {file}: {', '.join(fields)}" for file, fields in answer["inherited"].items()
    )


def _harmony_line(answer: dict[str, Any]) -> str:
    """A line on keys and the end of the take; none for a piece without chords."""
    if answer["keys"] is None:
        return ""
    end = answer["take_ends_on"]
    return f"\n  keys: {answer['keys']}" + (f"; the take ends on {end}" if end else "")
