"""What a chord is in a key: its function, its chord scale, and how far it lies from the key.

One table says it for the chords that a key borrows or bends; the chords that the key's own scale
holds need no table, and the dominants of other degrees follow one rule. Costs are about as many as
the steps a listener makes to hear the chord in the key: 0 for the key's own chords, below 1 for
what common practice uses without leaving the key, over 1 for what sounds like another key. The
search in ``analysis.py`` weighs them against leaving the key.

Everything is counted in semitones above the tonic, so that one table serves all keys and no
spelling changes a reading. The chord scales are those of common practice [common practice].
"""

from __future__ import annotations

from functools import cache, lru_cache
from typing import NamedTuple

from genex.theory.chord import Chord
from genex.theory.key import Key, Mode
from genex.theory.pitch import Degree, NoteName

MINOR_KINDS = frozenset(("minor", "minor seventh", "minor sixth", "minor major"))
_DARK_KINDS = MINOR_KINDS | {"half-diminished", "diminished"}
_DOMINANT_KINDS = frozenset(("major", "dominant", "augmented", "suspended"))
"""Kinds that can lead down a fifth as dominants do."""

FIFTH_DOWN, SEMITONE_DOWN, SEMITONE_UP = 5, 11, 1


class Sight(NamedTuple):
    """A chord as it is seen from a tonic, with the neighbours that bear on its function.

    degree    semitones from the tonic to the root
    kind      see ``kind_of``
    notes     its pitch classes as bits, bit 0 the tonic
    bass      a bass that is none of them, as a bit; 0 where there is none
    step      semitones from its root up to the next root, 0 where no other follows
    to_kind   kind of the chord that it moves to
    to_two    whether that chord is the second of a ii-V
    is_two    whether it is the second of a ii-V itself: its dominant follows
    five_of   kind of the ii that it follows as V; empty where there was none
    blues     whether the key is that of a blues
    altered   whether its symbol alters a tone
    darkened  whether its neighbours have the lowered sixth degree and not the natural one
    """

    degree: int
    kind: str
    notes: int
    step: int = 0
    to_kind: str = ""
    to_two: bool = False
    is_two: bool = False
    five_of: str = ""
    blues: bool = False
    altered: bool = False
    bass: int = 0
    darkened: bool = False


class Role(NamedTuple):
    """What a chord does in a key; ``target`` is the degree that a secondary dominant leads to."""

    cost: float
    scale: str
    function: str
    reason: str
    target: int | None = None
    target_is_minor: bool = False


# degrees over the tonic | kinds | next root | cost | scale | function | reason
# The first row that fits holds. For the next root may stand "any", or "dark": beside chords of minor.
_BORROWED: dict[str, str] = {
    "major": """
4  | minor, minor sixth, minor major | any | 0.4 | melodic minor | subdominant | the IV turned minor
4  | minor seventh | any | 0.4 | dorian | subdominant | the IV turned minor
4  | dominant | 3 | 0.4 | lydian dominant | dominant | tritone substitute of V7/iii
4  | dominant | any | 0.4 | lydian dominant | subdominant | IV7: all but its seventh is the key's
b7 | dominant | any | 0.4 | lydian dominant | dominant | backdoor dominant, a tone below the tonic
b7 | major | dark | 0.4 | mixolydian | subdominant | borrowed from the minor key
b7 | major, major seventh | any | 0.4 | lydian | subdominant | borrowed from the mixolydian mode
b2 | dominant | 1 | 0.3 | lydian dominant | dominant | tritone substitute of V7
b2 | dominant | any | 0.7 | lydian dominant | dominant | tritone substitute of V7; I does not follow
b2 | major, major seventh | any | 0.5 | lydian | subdominant | Neapolitan: on the lowered second
b6 | dominant | 5 | 0.5 | lydian dominant | dominant | tritone substitute of V7/V
b6 | dominant | any | 0.5 | lydian dominant | dominant | tritone substitute of V7/V; V does not follow
b6 | major, major seventh | any | 0.4 | lydian | subdominant | borrowed from the minor key
b3 | dominant | 2 | 0.4 | lydian dominant | dominant | tritone substitute of V7/ii
b3 | dominant | any | 0.7 | lydian dominant | dominant | tritone substitute of V7/ii; ii does not follow
b3 | major | dark | 0.4 | major | tonic | borrowed from the minor key
b3 | major, major seventh | any | 0.4 | lydian | tonic | borrowed from the dorian mode
b5 | dominant | 4 | 0.4 | lydian dominant | dominant | tritone substitute of V7/IV
b5 | dominant | any | 0.9 | lydian dominant | dominant | tritone substitute of V7/IV; IV does not follow
2  | half-diminished | any | 0.4 | locrian | subdominant | ii of the minor key, borrowed
b5 | half-diminished | any | 0.4 | locrian | subdominant | raised IV, half-diminished
1  | minor, minor seventh | any | 0.6 | dorian | tonic | the I turned minor
1  | minor sixth, minor major | any | 0.6 | melodic minor | tonic | the I turned minor
5  | minor, minor seventh | any | 0.6 | dorian | dominant | v of the minor key, borrowed
5  | major seventh | any | 1.2 | major | dominant | V with a major seventh
b6 | minor seventh | b2 | 0.6 | dorian | subdominant | ii before the tritone substitute of V7
1 5 | augmented | any | 0.3 | whole tone | | augmented: the symbol decides
""",
    "minor": """
5  | augmented | any | 0.1 | whole tone | dominant | V of the minor key
5  | major, dominant | any | 0 | phrygian dominant | dominant | V of the minor key
5  | suspended | any | 0.3 | phrygian | dominant | V of the minor key, without its third
7  | diminished | any | 0.1 | altered bb7 | dominant | leading-note chord of the minor key
1  | minor sixth, minor major | any | 0.1 | melodic minor | tonic | tonic of the minor key
1  | major seventh | any | 1.2 | major | tonic | the tonic with a major third
1  | major | any | 0.6 | major | tonic | the tonic with a major third (Picardy third)
4  | dominant | any | 0.3 | mixolydian | subdominant | IV7 of the minor key, with the major sixth
4  | major | any | 0.3 | mixolydian | subdominant | IV of the minor key, with the major sixth
2  | minor, minor seventh | 5 | 0.5 | dorian | subdominant | ii with a natural fifth, before V
2  | minor, minor seventh | any | 0.4 | phrygian | subdominant | ii with the key's major sixth
b6 | dominant | 5 | 0.4 | lydian dominant | dominant | tritone substitute of V7/V
b6 | dominant | any | 0.4 | lydian dominant | dominant | tritone substitute of V7/V; V does not follow
b2 | dominant | 1 | 0.3 | lydian dominant | dominant | tritone substitute of V7
b2 | dominant | any | 0.7 | lydian dominant | dominant | tritone substitute of V7; i does not follow
b2 | major, major seventh | any | 0.4 | lydian | subdominant | Neapolitan: on the lowered second
b5 | dominant | 4 | 0.7 | lydian dominant | dominant | tritone substitute of V7/iv
b5 | dominant | any | 0.7 | lydian dominant | dominant | tritone substitute of V7/iv; iv does not follow
6  | half-diminished | any | 0.3 | locrian | subdominant | on the raised sixth
b5 | half-diminished | any | 0.6 | locrian | subdominant | raised iv, half-diminished
b3 | augmented | any | 0.2 | ionian #5 | tonic | III+ of the harmonic minor
""",
}

# What belongs nowhere, by its kind: cost | scale | reason.
_ELSEWHERE: dict[str, tuple[float, str, str]] = {
    "major": (1.2, "lydian", "belongs to no key near by"),
    "major seventh": (1.2, "lydian", "belongs to no key near by"),
    "dominant": (1.0, "mixolydian", "a dominant by itself"),
    "minor": (1.2, "dorian", "belongs to no key near by"),
    "minor seventh": (1.2, "dorian", "belongs to no key near by"),
    "minor sixth": (1.2, "melodic minor", "a minor sixth by itself"),
    "minor major": (1.2, "melodic minor", "a minor chord with major seventh, by itself"),
    "half-diminished": (1.0, "locrian", "half-diminished, by itself"),
    "diminished": (0.4, "whole-half diminished", "diminished: the symbol decides"),
    "augmented": (0.6, "whole tone", "augmented: the symbol decides"),
    "suspended": (0.7, "mixolydian", "suspended: no third"),
    "open": (0.6, "", "no third: the key's notes"),
}

_MODE_SCALES: tuple[tuple[str, int], ...] = (
    # scale on the root, semitones of its root above the tonic of the major key with its notes
    ("major", 0), ("dorian", 2), ("phrygian", 4), ("lydian", 5), ("mixolydian", 7),
    ("natural minor", 9), ("locrian", 11),
)  # fmt: skip
_SCALE_AT = {semitones: name for name, semitones in _MODE_SCALES}
_PARENT: dict[Mode, int] = {
    "major": 0, "ionian": 0, "dorian": 2, "phrygian": 4, "lydian": 5, "mixolydian": 7, "minor": 9,
    "aeolian": 9, "locrian": 11,
}  # fmt: skip
"""Semitones from the tonic of the major key with the same notes up to the mode's tonic."""

_FUNCTIONS = ("tonic", "subdominant", "tonic", "subdominant", "dominant", "tonic", "dominant")
_MINOR_SIXTH_FUNCTION = "subdominant"
_DARK: frozenset[Mode] = frozenset(("minor", "aeolian", "dorian", "phrygian", "locrian"))


@cache
def mode_notes(mode: Mode) -> int:
    """The mode's pitch classes as bits, bit 0 the tonic."""
    degrees = Key(NoteName(1), mode).degrees  # on D every mode has a key
    return sum(1 << degree.semitones for degree in degrees)


def kind_of(chord: Chord) -> str:
    """The kind of a chord by what it can do.

    ``major`` (triads and sixths), ``major seventh``, ``dominant`` (major third, minor seventh),
    ``augmented`` (triad or major seventh), ``minor``, ``minor seventh``, ``minor sixth``,
    ``minor major``, ``half-diminished``, ``diminished``, ``suspended`` (a fourth or second for the
    third), ``open`` (neither).
    """
    third, fifth = chord.find(3), chord.find(5)
    minor_seventh = Degree(7, -1) in chord.degrees
    if third is None:
        return "suspended" if chord.find(4, 2, 11) is not None else "open"
    if third.alter == 0:
        if minor_seventh:
            return "dominant"
        if fifth == Degree(5, 1):
            return "augmented"
        return "major seventh" if Degree(7) in chord.degrees else "major"
    if fifth == Degree(5, -1):
        return "half-diminished" if minor_seventh else "diminished"
    if Degree(7) in chord.degrees:
        return "minor major"
    if minor_seventh:
        return "minor seventh"
    return "minor sixth" if chord.find(6) == Degree(6) else "minor"


def is_dark(kind: str) -> bool:
    """Whether a kind of chord has a minor third."""
    return kind in _DARK_KINDS


SAME_NOTES: dict[Mode, Mode] = {"ionian": "major", "aeolian": "minor"}
"""Modes that are another name for a plain key."""


@lru_cache(maxsize=200_000)
def role_in(mode: Mode, sight: Sight) -> Role:
    """What a chord does in a key of a mode."""
    mode = SAME_NOTES.get(mode, mode)
    own = _own_chord(mode, sight)
    if own is not None:
        return _in_place(mode, sight, own)
    is_minor = mode in _DARK
    if sight.blues and sight.kind == "dominant" and sight.degree in (0, 5):
        function = "tonic" if sight.degree == 0 else "subdominant"
        return Role(0.05, "mixolydian", function, "a blues: its chords are dominant sevenths")
    if sight.kind == "dominant" and sight.degree == 7 and not is_minor:
        # Altered: the symbol says how. In a mode the V7 is borrowed from the major key.
        cost = (0.1 if mode == "major" else 0.2) + _wrong_third(sight, is_minor=False)
        return Role(cost, "mixolydian", "dominant", "dominant of the key")
    plain: Mode = "minor" if is_minor else "major"
    if mode != plain:
        found = _own_chord(plain, sight)
        if found is not None:
            return found._replace(cost=0.3, reason=f"borrowed from the {plain} key")
    row = _row(plain, sight)
    applied = _applied(sight, is_minor)
    if row is None and _slides_down(mode, sight):
        return Role(0.5, "lydian dominant", "dominant", "tritone substitute, a semitone above the next")
    if row is not None and (applied is None or row.cost <= applied.cost):
        if mode != plain:
            row = row._replace(cost=row.cost + 0.2)  # what is borrowed is borrowed by the plain key
        return _in_place(mode, sight, row)
    if applied is not None:
        return applied
    cost, scale, reason = _ELSEWHERE[sight.kind]
    if sight.kind == "diminished":
        return _diminished(sight)
    if sight.kind in MINOR_KINDS and _holds(mode, _turned(0b1001, sight.degree)):
        # On a degree of the key, with its third: near, unless it is another key's ii.
        cost = 0.9
        own_fifth = sight.kind != "minor seventh" or _holds(mode, _turned(1 << 7, sight.degree))
        if not own_fifth:
            return Role(cost + (0.6 if sight.is_two else 0.0), *_FOREIGN_FIFTH)
        scale = _SCALE_AT.get((sight.degree + _PARENT[mode]) % 12, scale)
        reason = "on a degree of the key"
    return Role(cost + (0.6 if sight.is_two else 0.0), scale, _function(mode, sight.degree), reason)


_FOREIGN_FIFTH = "dorian", "", "a minor seventh with a fifth that the key lacks"


def _slides_down(mode: Mode, sight: Sight) -> bool:
    """Whether a dominant leads down a semitone: from a root that the key lacks, or to a dominant."""
    if sight.kind != "dominant" or sight.step != SEMITONE_DOWN:
        return False
    return sight.to_kind == "dominant" or not _holds(mode, 1 << sight.degree)


def _own_chord(mode: Mode, sight: Sight) -> Role | None:
    """The role of a chord that the mode's own scale holds."""
    own = mode_notes(mode)
    if sight.notes & ~own:
        return None
    over_passing_bass = bool(sight.bass & ~own)
    scale = _SCALE_AT[(sight.degree + _PARENT[mode]) % 12]
    function = _function(mode, sight.degree)
    if over_passing_bass:
        return Role(0.2, scale, function, "over a passing bass")
    return Role(0.0, scale, function, "")


_FIVES_AT_HOME = (1, 7, 10)
"""Degrees whose dominant leads to the tonic: V, its substitute, and the backdoor. Their ii stays."""
_SUBSTITUTES = (1, 3, 6, 8, 10)
"""Degrees whose dominants lead down a semitone; down a fifth they would lead into another key."""


def _in_place(mode: Mode, sight: Sight, role: Role) -> Role:
    """A role of the key's own with what the neighbours say: a ii-V that points to another key, a
    V whose tonic has the other third, a iiø that darkens its V."""
    cost, scale, reason = role.cost, role.scale, role.reason
    if cost > 0 and sight.is_two and (sight.degree + FIFTH_DOWN) % 12 not in _FIVES_AT_HOME:
        cost += 0.9
    is_substitute = sight.kind == "dominant" and sight.degree in _SUBSTITUTES
    if cost > 0 and is_substitute and sight.step == FIFTH_DOWN:
        cost += {"major seventh": 1.8, "major": 0.4}.get(sight.to_kind, 0.0)
    if sight.kind in ("dominant", "major") and sight.degree == 7:
        cost += _wrong_third(sight, is_minor=mode in _DARK)
        if sight.five_of == "half-diminished" and scale == "mixolydian":
            scale, reason = "phrygian dominant", "V after the ii of the minor key"
    elif sight.five_of and sight.kind == "dominant":
        # Its own ii before it points to another key than a mode, or than where it is borrowed.
        cost += _foreign_five(mode, sight, role)
    return role._replace(cost=cost, scale=scale, reason=reason)


def _foreign_five(mode: Mode, sight: Sight, role: Role) -> float:
    """What a V behind its own ii costs where it is not the key's V; the backdoor is at home, and the
    substitute that falls to the tonic."""
    if mode in _DARK and sight.degree == 5 and sight.five_of != "half-diminished":
        return 0.0  # a vamp of i and IV7
    in_a_mode = mode not in ("major", "minor")
    is_home = sight.degree == 10 or (sight.degree == 1 and sight.step == SEMITONE_DOWN)
    return 0.5 if in_a_mode or (role.cost > 0 and not is_home) else 0.0


def _wrong_third(sight: Sight, *, is_minor: bool) -> float:
    """What it costs that the tonic after a V has the other third; a ii that follows is no tonic."""
    if sight.step != FIFTH_DOWN or sight.to_two:
        return 0.0
    goes_elsewhere = sight.to_kind in ("suspended", "open", "dominant")
    return 0.5 if is_dark(sight.to_kind) != is_minor and not goes_elsewhere else 0.0


@cache
def _function(mode: Mode, degree: int) -> str:
    """Tonic, subdominant or dominant, by the degree of the scale; empty for a foreign root."""
    degrees = [d.semitones for d in Key(NoteName(1), mode).degrees]
    if degree not in degrees:
        return ""
    number = degrees.index(degree)
    if number == 5 and mode in _DARK:
        return _MINOR_SIXTH_FUNCTION
    return _FUNCTIONS[number]


def _row(plain: Mode, sight: Sight) -> Role | None:
    """The row of the table for a chord."""
    following = (sight.degree + sight.step) % 12 if sight.step else None
    for to, role in _rows(plain).get((sight.degree, sight.kind), ()):
        if to is None or to == following or (to == _DARKENED and sight.darkened):
            return role
    return None


_DARKENED = -1
_NEXT = {"any": None, "dark": _DARKENED}


@cache
def _rows(plain: Mode) -> dict[tuple[int, str], list[tuple[int | None, Role]]]:
    """The table by degree (semitones) and kind: the next root wanted, or None, and the role;
    ``_DARKENED`` stands for a row that needs chords of minor beside it."""
    found: dict[tuple[int, str], list[tuple[int | None, Role]]] = {}
    for line in _BORROWED[plain].strip().splitlines():
        degrees, kinds, to, cost, scale, function, reason = (cell.strip() for cell in line.split("|"))
        role = Role(float(cost), scale, function, reason)
        following = _NEXT[to] if to in _NEXT else Degree.parse(to).semitones
        for degree in degrees.split():
            for kind in kinds.split(","):
                cell = (Degree.parse(degree).semitones, kind.strip())
                found.setdefault(cell, []).append((following, role))
    return found


_DIATONIC_THIRDS = {"major": {2: True, 4: True, 5: False, 7: False, 9: True},
                    "minor": {2: True, 3: False, 5: True, 7: False, 8: False, 10: False}}  # fmt: skip
"""Degrees that can be a dominant's target -> whether their chord has a minor third. The V of a
minor key counts as major: it is a dominant itself."""


def _applied(sight: Sight, is_minor: bool) -> Role | None:
    """The dominant of another degree of the key, whether it gets there or not.

    Its scale is mixolydian where the target is a major chord and the fifth mode of harmonic minor
    where it is a minor one: the chord that follows says so, or else the key.
    """
    if sight.kind not in _DOMINANT_KINDS or (sight.kind == "suspended" and not sight.altered):
        return None
    targets = _DIATONIC_THIRDS["minor" if is_minor else "major"]
    target = (sight.degree + FIFTH_DOWN) % 12
    if target not in targets:
        return None
    arrives = sight.step == FIFTH_DOWN
    dark = is_dark(sight.to_kind) if arrives else targets[target]
    cost = 0.3 if target in (5, 7) else 0.4
    if not arrives:
        cost += 0.3
    if sight.five_of:
        # With its own ii before it, it points to its own key.
        elsewhere = not arrives or (sight.to_two and dark != targets[target])
        cost += 1.0 if elsewhere else 0.0
    if arrives and sight.to_kind == "major seventh" and targets[target]:
        cost += 1.2  # that is another key's tonic
    if sight.kind == "major":
        cost += 0.1
    if sight.kind == "augmented":
        cost += 0.2
    return Role(
        cost,
        "phrygian dominant" if dark else "mixolydian",
        "secondary dominant",
        "",
        target,
        dark,
    )


def _diminished(sight: Sight) -> Role:
    if sight.step == SEMITONE_UP:
        return Role(0.3, "whole-half diminished", "dominant", "diminished, a semitone below the next")
    if sight.step == SEMITONE_DOWN:
        return Role(0.3, "whole-half diminished", "passing", "diminished, a semitone above the next")
    return Role(0.4, "whole-half diminished", "passing", "diminished: the symbol decides")


def _turned(notes: int, degree: int) -> int:
    """Bits over a root moved to where the root lies over the tonic."""
    return (notes << degree | notes >> (12 - degree)) & 0xFFF


def _holds(mode: Mode, notes: int) -> bool:
    return not notes & ~mode_notes(mode)
