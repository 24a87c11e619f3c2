"""The keys and tempos that a recipe asks for."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from math import ceil

from genex.errors import InputError, NotationError, RecipeError
from genex.exact import Fraction, decimal
from genex.recipe.fields import MAX_TEMPO, MAX_TEMPOS, MIN_TEMPO, LadderFields, RecipeFields
from genex.text.yaml_source import KeyPath, Source
from genex.theory import CYCLES, Key, key_cycle, spelled_key

MAX_VERSIONS = 200
_BARE_TONIC = re.compile(r"[A-G](\s*[b#♭♯]|[\s-]*(flat|sharp))?", re.IGNORECASE)
"""A key without a mode."""
_ALL_KEYS = frozenset(("all", "all keys", "all twelve", "twelve", "12", "all 12"))


@dataclass(frozen=True)
class Version:
    """One key and tempo of a lesson. ``suffix`` sets its files apart, such as ``.Bb.120``.

    ``tempo`` counts the meter's pulses a minute.
    """

    key: Key
    tempo: Fraction
    suffix: str = ""


def versions_of(
    source: Source, fields: RecipeFields, key: Key, usual_tempo: float
) -> tuple[Version, ...]:
    """Every key with every tempo that the recipe asks for, in the order written.

    ``usual_tempo`` is that of a recipe that names none.
    """
    keys = _keys(source, fields, key)
    tempos = _tempos(source, fields, usual_tempo)
    count = len(keys) * len(tempos)
    if count > MAX_VERSIONS:
        raise RecipeError(
            f"{len(keys)} keys at {len(tempos)} tempos are {count} versions",
            hint=f"at most {MAX_VERSIONS}: name fewer keys or tempos",
            place=source.place(("tempos",)),
        )
    return tuple(
        Version(each_key, tempo, _suffix(each_key, tempo, several=(len(keys) > 1, len(tempos) > 1)))
        for each_key in keys
        for tempo in tempos
    )


def other_version(recipe_key: Key, first: Version, key: str | None, tempo: float | None) -> Version:
    """A tune in another key or at another tempo; what is not said is as in its ``first`` version.

    Raises InputError for a key that is none or of the other mode, and for a tempo out of range.
    """
    if tempo is not None and not MIN_TEMPO <= tempo <= MAX_TEMPO:
        raise InputError(
            f"the tempo {tempo:g} is out of range", hint=f"from {MIN_TEMPO} to {MAX_TEMPO} is allowed"
        )
    return Version(
        first.key if key is None else _read_key(key, recipe_key, "write a key such as Bb or G minor"),
        first.tempo if tempo is None else decimal(tempo),
    )


def _suffix(key: Key, tempo: Fraction, *, several: tuple[bool, bool]) -> str:
    """What sets a version's files apart where there are ``several`` keys or tempos."""
    tonic = str(key.tonic).replace("#", "-sharp")
    of_key = f".{tonic}{'' if key.mode == 'major' else f'-{key.mode}'}"
    return (of_key if several[0] else "") + (f".{decimal_text(tempo)}" if several[1] else "")


def decimal_text(number: Fraction) -> str:
    """A number that was written in decimals, exactly: ``100``, ``100.5``, ``66.6666667``."""
    return f"{(Decimal(number.numerator) / Decimal(number.denominator)).normalize():f}"


def _keys(source: Source, fields: RecipeFields, key: Key) -> tuple[Key, ...]:
    if fields.keys is None:
        return (key,)
    if isinstance(fields.keys, str):
        if fields.keys in CYCLES:
            return key_cycle(key, fields.keys)
        written = [fields.keys]
    else:
        written = list(fields.keys)
    keys: list[Key] = []
    for index, text in enumerate(written):
        path: KeyPath = ("keys",) if isinstance(fields.keys, str) else ("keys", index)
        try:
            keys.append(_read_key(text, key, _cycle_meant(text)))
        except NotationError as error:
            raise RecipeError(error.message, hint=error.hint, place=source.place(path)) from None
    if not keys:
        raise RecipeError(
            "'keys' is empty", hint="write [F, Bb] or fourths", place=source.place(("keys",))
        )
    return tuple(dict.fromkeys(keys))


def _cycle_meant(text: str) -> str:
    """What to write instead of what is neither keys nor an order of all twelve."""
    if text.strip().lower() in _ALL_KEYS:
        return f"all twelve keys need an order: write fourths, or another of: {', '.join(CYCLES)}"
    return f"write key names, or one of: {', '.join(CYCLES)}"


def _read_key(text: str, key: Key, hint: str) -> Key:
    """The key to transpose a tune in ``key`` into. Raises NotationError, with ``hint`` for no key."""
    # A bare tonic takes the tune's own mode: keys: [F, Bb] of a minor tune are minor.
    is_bare = _BARE_TONIC.fullmatch(text.strip()) is not None
    try:
        found = Key.parse(f"{text} {key.mode}" if is_bare else text)
    except NotationError as error:
        raise NotationError(error.message, hint=hint) from None
    # A dorian tune is a minor one to whoever asks for it in Am.
    if found.mode != key.mode and found.mode == key.plain_mode:
        return spelled_key(found.tonic, key.mode)
    if found.mode != key.mode:
        raise NotationError(
            f"{found} is not a key of the same kind as {key}",
            hint=f"a {key.mode} tune goes into {key.mode} keys: write {found.tonic} {key.mode}",
        )
    return found


def _tempos(source: Source, fields: RecipeFields, usual: float) -> tuple[Fraction, ...]:
    """The tempos wanted, as written in decimals; a ladder goes as far as its ``end``."""
    wanted = fields.tempos
    if wanted is None:
        return (decimal(usual if fields.tempo is None else fields.tempo),)
    if isinstance(wanted, LadderFields):
        start, end, step = (decimal(value) for value in (wanted.start, wanted.end, wanted.step))
        steps = ceil(abs(end - start) / step)
        if steps + 1 > MAX_TEMPOS:
            raise RecipeError(
                f"that ladder has {steps + 1} tempos",
                hint=f"at most {MAX_TEMPOS}: take larger steps",
                place=source.place(("tempos", "step")),
            )
        sign = 1 if end >= start else -1
        return (*(start + sign * index * step for index in range(steps)), end)
    if not wanted:
        raise RecipeError(
            "'tempos' is empty", hint="write [90, 110, 130]", place=source.place(("tempos",))
        )
    return tuple(dict.fromkeys(decimal(tempo) for tempo in wanted))
