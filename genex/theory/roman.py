"""Chords written as Roman numerals or as numbers (the Nashville way), read in a key.

Roman numerals
    The case gives the third: ``ii`` minor, ``II`` major; then a chord-symbol suffix: ``ii7``,
    ``V7b9``, ``Imaj7``, ``bVII``, ``viiø7``, ``#ivo7``, ``V+``, ``Vsus4``. A suffix is literal:
    ``I7`` is a dominant seventh (as in a blues). ``IIm7`` and ``ii-7`` are read as well.
    Figures of inversion: 6 and 64 for triads, 65, 43 and 42 for seventh chords, whose seventh is
    then that of the key (``I65`` in C is Cmaj7/E). A sixth chord is therefore ``Iadd6`` or
    ``I6/9``. ``Cad64`` is the tonic over its fifth.
    ``V7/ii`` is the dominant of the second degree; chains such as ``V7/V/V`` go from right to left.
    ``IV/5`` puts the fifth degree of the key in the bass.
Numbers
    ``1``, ``4``, ``57``, ``2-``, ``2-7``, ``1maj7``, ``b7``, ``7°``, ``#4o7``: the number of the
    degree, then a suffix; a number alone is a major triad. ``4/5`` has the fifth degree in the
    bass. A bare 7 behind a bare number in one bar is that number's seventh: ``5 7`` is ``57``.
Degrees in minor
    Those of the natural minor scale, but diminished and lower-case chords on 6 and 7 stand on
    the raised degrees (``viio7`` in C minor is Bdim7, ``viø7`` Am7b5 in C minor's melodic form).
    ``bIII``, ``bVI`` and ``bVII`` mean the same as III, VI and VII, as players use them; strict
    figured analysis would lower these again. ``#`` on 3, 6 and 7 raises the minor degree.

Degrees in the other modes
    Counted from the major scale on the tonic, as in major: ``i``, ``bIII``, ``IV``, ``bVII`` in
    D dorian are Dm, F, G, C.

Sources: common usage in harmony textbooks; figures as in thorough-bass practice [common practice].
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from genex.errors import ChordSymbolError, NotationError
from genex.theory.chord import Chord
from genex.theory.key import Key, PlainMode
from genex.theory.pitch import Degree, NoteName
from genex.theory.symbol import parse_chord

_NUMERALS = ("I", "II", "III", "IV", "V", "VI", "VII")
_ROMAN = re.compile(
    r"(?P<sign>b{0,2}|#{0,2})(?P<numeral>VII|III|VI|IV|II|I|V|vii|iii|vi|iv|ii|i|v)"
    r"(?![IVXiv])(?P<suffix>.*)"
)
_NUMBER = re.compile(r"(?P<sign>b|#|)(?P<numeral>[1-7])(?P<suffix>.*)")
_IS_NUMERAL = re.compile(r"[b#]{0,2}(?:[IV]+|[iv]+)|[b#]?[1-7]|Cad64")
_BASS = re.compile(r"(.*)/(b|#|)([1-7])")
_FIGURES = {"6": (3, False), "64": (5, False), "65": (3, True), "43": (5, True), "42": (7, True)}
"""Figure -> number of the chord tone in the bass, whether the chord has a seventh."""
_FIGURE = re.compile(r"(?P<head>\+|o|°|ø|dim|aug|)(?P<figure>6/?5|4/?3|4/?2|6/?4|6)")
_OWN_SIGN = re.compile(r"m(?!a)|-|min|o|°|ø|dim|aug|\+|hdim|5$|MI|Mi|mi")
_LOWERED_SEVENTHS = ("o", "°", "ø", "dim", "hdim", "m7b5", "m9b5", "-7b5")


@dataclass(frozen=True)
class _Home:
    """The tonic and mode that numerals count from; unlike a Key it may need any signature."""

    tonic: NoteName
    mode: PlainMode

    def degree(self, number: int, alter: int, *, raised: bool) -> NoteName:
        """The note of a degree; ``raised`` takes the leading form of 6 and 7 in minor."""
        is_variable = self.mode == "minor" and number in (3, 6, 7)
        if is_variable and (alter < 0 or not (alter > 0 or raised)):
            # The minor degree, written with its flat or without.
            return self.tonic.degree(Degree(number, min(alter, -1)))
        if is_variable:
            return self.tonic.degree(Degree(number, max(alter - 1, 0)))
        return self.tonic.degree(Degree(number, alter))


def is_numeral(text: str) -> bool:
    """Whether a chart entry looks like a Roman numeral or a number, not like a chord symbol."""
    return _IS_NUMERAL.match(_plain(text)) is not None


def chord_from_numeral(text: str, key: Key) -> Chord:
    """The chord of a Roman numeral or a number in a key, with a plain lead-sheet symbol.

    Raises NotationError.
    """
    return _chord(_plain(text), text, _Home(key.tonic, "minor" if key.mode in ("minor", "aeolian") else "major"))


def join_numbers(entries: list[str]) -> list[str]:
    """The entries of one bar, with a bare 7 joined to the bare number before it."""
    joined: list[str] = []
    for entry in entries:
        if entry == "7" and joined and re.fullmatch(r"[b#♭♯]?[1-6]-?", joined[-1]):
            joined[-1] += "7"
        else:
            joined.append(entry)
    return joined


def parse_progression(text: str, key: Key) -> tuple[tuple[Chord, ...], ...]:
    """The chords of each bar of ``ii7 | V7 | Imaj7``, ``2-7 | 5 7 | 1`` or plain chord symbols.

    Bars are set apart by ``|``, chords in a bar by spaces; the three ways may be mixed.
    Raises NotationError or ChordSymbolError.
    """
    bars = [bar.split() for bar in text.strip().strip("|").split("|")]
    if any(not bar for bar in bars):
        raise NotationError(
            "a bar of the progression is empty", hint="write a chord between the bar lines"
        )
    return tuple(
        tuple(chord_from_numeral(e, key) if is_numeral(e) else parse_chord(e) for e in join_numbers(bar))
        for bar in bars
    )


def _plain(text: str) -> str:
    return text.strip().replace("♭", "b").replace("♯", "#")


def _chord(text: str, whole: str, home: _Home) -> Chord:
    if text == "Cad64":
        text = "I64" if home.mode == "major" else "i64"
    head, _, target = text.rpartition("/")
    if head and _ROMAN.fullmatch(target.strip()) and not target.strip()[:1].isdigit():
        return _chord(head.strip(), whole, _home_on(target.strip(), whole, home))
    bass: NoteName | None = None
    over = _BASS.fullmatch(text)
    if over is not None and not (over[2] == "" and _FIGURE.search(text) and text.endswith(_SLASHED)):
        text = over[1].strip()
        alter = {"b": -1, "#": 1}.get(over[2], 0)
        bass = home.degree(int(over[3]), alter, raised=False)
    match = _ROMAN.fullmatch(text)
    chord = _roman(match, whole, home) if match else _numbered(text, whole, home)
    return chord if bass is None else _over(chord, bass)


_SLASHED = ("6/5", "4/3", "4/2", "6/4")
"""Figures with a stroke between the digits, which is no slash before a bass."""


def _home_on(target: str, whole: str, home: _Home) -> _Home:
    """The degree that a secondary chord belongs to, taken as a tonic."""
    chord = _chord(target, whole, home)
    return _Home(chord.root, "minor" if chord.is_minor else "major")


def _roman(match: re.Match[str], whole: str, home: _Home) -> Chord:
    numeral, suffix = match["numeral"], match["suffix"]
    is_lower = numeral.islower()
    number = _NUMERALS.index(numeral.upper()) + 1
    alter = match["sign"].count("#") - match["sign"].count("b")
    has_lead = is_lower or suffix.startswith(_LOWERED_SEVENTHS)
    root = home.degree(number, alter, raised=has_lead and number != 3)
    if suffix == "2":
        raise NotationError(f"'{whole}' is unclear", hint="write 42 for the third inversion, or add9")
    figure = _FIGURE.fullmatch(suffix)
    if figure is None:
        return _read(f"{root}{_suffix(suffix, is_lower)}", whole)
    tone, has_seventh = _FIGURES[figure["figure"].replace("/", "")]
    ending = "7" if has_seventh else ""
    if has_seventh and not is_lower and not figure["head"] and _has_major_seventh(root, home):
        ending = "maj7"
    chord = _read(f"{root}{_suffix(figure['head'] + ending, is_lower)}", whole)
    bass = chord.find(tone)
    if bass is None:
        raise NotationError(
            f"'{whole}' has no tone for its figure", hint="write 65, 43 or 42 for sevenths"
        )
    return _over(chord, chord.root.degree(bass))


def _numbered(text: str, whole: str, home: _Home) -> Chord:
    match = _NUMBER.fullmatch(text)
    if match is None:
        raise NotationError(
            f"'{whole}' is neither a Roman numeral nor a number of the scale",
            hint="write for example ii7, bVII, V7/V, or 2-7, 57, 4/5",
        )
    suffix = match["suffix"]
    alter = {"b": -1, "#": 1}.get(match["sign"], 0)
    root = home.degree(int(match["numeral"]), alter, raised=suffix.startswith(_LOWERED_SEVENTHS))
    return _read(f"{root}{_guarded(suffix)}", whole)


def _suffix(suffix: str, is_lower: bool) -> str:
    """The suffix of the chord symbol, the case of the numeral written out."""
    if not is_lower or _OWN_SIGN.match(suffix):
        return _guarded(suffix)
    return f"m{_guarded(suffix)}"


def _guarded(suffix: str) -> str:
    """A suffix that begins with an accidental in parentheses, lest the root takes it."""
    return f"({suffix})" if suffix[:1] in ("b", "#") else suffix


def _has_major_seventh(root: NoteName, home: _Home) -> bool:
    """Whether the key's own seventh over a root is a major one (in minor: natural minor)."""
    key_degrees = [home.degree(number, 0, raised=False) for number in range(1, 8)]
    return root in key_degrees and root.degree(Degree(7)) in key_degrees


def _read(symbol: str, whole: str) -> Chord:
    try:
        chord = parse_chord(symbol)
    except ChordSymbolError as error:
        raise NotationError(
            f"'{whole}' cannot be read as a numeral: its chord would be {symbol}", hint=error.hint
        ) from error
    return replace(chord, symbol=chord.plain_symbol)


def _over(chord: Chord, bass: NoteName) -> Chord:
    inverted = replace(chord, bass=bass)
    return replace(inverted, symbol=inverted.plain_symbol)
