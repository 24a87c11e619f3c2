"""Charts that nobody chose: chords of Bach's chorales, and chains of chords that are drawn.

``drawn_lesson`` is a recipe of an etude over such a chart, with a feel, a key and a form that are drawn
too. ``python -m tests.bench.read_etudes`` prints the etudes as a player reads them.
"""

from __future__ import annotations

import re
from functools import lru_cache
from random import Random

from music21 import corpus

from genex import parse_recipe
from genex.band import load_groove
from genex.compose.chart_timeline import build_timeline
from genex.errors import GenexError
from genex.exercises import Player
from genex.exercises.models.over_the_chart import Etude
from genex.lines.etude import phrases_of
from genex.lines.phrase import Phrase
from genex.lines.placement import chords_of, hold_over
from genex.score import Timeline
from genex.theory import Key
from genex.theory.roman import chord_from_numeral

FEELS = (
    *("swing", "bossa", "funk", "shuffle", "waltz", "ballad-6-8", "rock", "jazz-waltz", "samba", "soul"),
    *("slow-blues", "fast-swing", "two-beat", "reggae", "five-four", "ballad", "boogie", "country"),
    *("afro-12-8", "disco", "two-four", "seven-eight", "half-time-shuffle", "pop-ballad", "six-four"),
)
_NEXT = {
    "I": "vi ii IV V iii I bVII", "ii": "V V V7/V IV", "iii": "vi vi IV", "IV": "V I ii iv",
    "V": "I I I vi", "vi": "ii ii IV V7/V", "V7/V": "V V ii", "iv": "I V I", "bVII": "IV I",
    "i": "iv iio VI V7 i VII", "iio": "V7 V7", "III": "VI VII", "VI": "iio iv V7", "VII": "III i",
    "V7": "i i VI",
}  # fmt: skip
"""What a chord goes on to: roots fall by fifths, rise by steps, fall by thirds [common practice]."""
_SEVENTHS = {
    "I": "Imaj7", "ii": "ii7", "iii": "iii7", "IV": "IVmaj7", "V": "V7", "vi": "vi7", "iv": "iv6",
    "bVII": "bVII7", "i": "i7", "iio": "iiø7", "III": "IIImaj7", "VI": "VImaj7", "VII": "VII7",
}  # fmt: skip
_BLUES = (
    "I7", "IV7 I7", "I7", "I7 V7/IV", "IV7", "IV7 #ivo7",
    "I7", "V7/ii I7", "ii7 V7", "V7 IV7", "I7", "V7",
)  # fmt: skip
_VAMPS = (("i7", "i7", "IV7", "i7"), ("Imaj7", "II", "Imaj7", "II"), ("I7", "bVII", "IV", "I"),
          ("i", "bII", "i", "bVII"))  # fmt: skip
KINDS = ("chorale", "major", "minor", "triads", "blues", "modal", "major", "minor")


def drawn_lesson(number: int, level: int) -> str:
    """A recipe of an etude; the feels take turns."""
    draw = Random(f"drawn {number}")
    kind = draw.choice(KINDS)
    major, form, sections = _chart(kind, draw)
    key = draw.choice(
        ("C Db D Eb E F Gb G Ab A Bb B" if major else "C C# D Eb E F F# G G# A Bb B").split()
    )
    lines = "".join(f"  {name}: '{' | '.join(bars)}'\n" for name, bars in sections.items())
    return (
        f"title: Drawn {number}\nfeel: {FEELS[number % len(FEELS)]}\n"
        f"key: {key} {'major' if major else 'minor'}\nsections:\n{lines}form: {form}\n"
        f"exercise: {{kind: etude, level: {level}}}\noutputs: [midi]\nseed: {draw.randint(1, 999)}\n"
    )


def _chart(kind: str, draw: Random) -> tuple[bool, str, dict[str, list[str]]]:
    """Whether it is in major, the form, and the bars of its sections."""
    if kind == "chorale":
        major, bars = draw.choice(chorales())
        return major, "A", {"A": bars}
    if kind == "blues":
        return True, "A", {"A": [draw.choice(bar.split()) for bar in _BLUES]}
    if kind == "modal":
        bars = list(draw.choice(_VAMPS))
        return bars[0][0].isupper() or bars[0][0] == "I", "A A", {"A": bars * 2}
    major = kind != "minor" and (kind == "major" or draw.random() < 0.6)
    lengths = draw.choice(((8,), (12,), (16,), (8, 8)))
    sections = {
        name: _chain(length, major, kind == "triads", draw)
        for name, length in zip("AB", lengths, strict=False)
    }
    return major, "A A B A" if len(lengths) == 2 else "A", sections


def _chain(length: int, major: bool, plain: bool, draw: Random) -> list[str]:
    """Bars of one chord or two that come home at their end."""
    home, last = ("I", "V") if major else ("i", "V7")
    chords = [home]
    bars: list[str] = []
    while len(bars) < length - 2:
        two = draw.random() < 0.3
        for _ in range(1 + two):
            chords.append(draw.choice(_NEXT[chords[-1]].split()))
        bars.append(" ".join(chords[-1 - two :]))
    bars += [last, home]
    return [" ".join(c if plain else _SEVENTHS.get(c, c) for c in bar.split()) for bar in bars]


@lru_cache(maxsize=1)
def chorales() -> list[tuple[bool, list[str]]]:
    """The first bars of the chorales that music21 has analyses of, one chord or two a bar, as far as
    they stay in one key. [package: music21 10.5.1]"""
    found = []
    for path in corpus.getPaths(fileExtensions=["rntxt"]):
        if path.parent.name != "choraleAnalyses":
            continue
        key, bars = None, []
        for line in path.read_text("utf-8").splitlines():
            measure = re.match(r"m(\d+) (.*)", line)
            if measure is None or measure[1] == "0":
                key = key or _key_of(line)
                continue
            if key is None:
                key = _key_of(line)
            chords = [c for c in re.sub(r"\S+: ", "", measure[2]).split() if _reads(c, key)]
            if not chords or len(bars) == 16:
                break
            bars.append(" ".join(dict.fromkeys((chords[0], chords[len(chords) // 2]))))
        bars = bars[: len(bars) // 4 * 4]
        if key is not None and len(bars) >= 8:
            found.append((key[0].isupper(), bars))
    return found


def _key_of(line: str) -> str | None:
    named = re.search(r"\b([A-Ga-g][b#]?): ", line)
    return named[1] if line.startswith("m") and named else None


def _reads(numeral: str, key: str | None) -> bool:
    if key is None or (numeral.startswith("b") and numeral[1:2].isdigit()):
        return False
    try:
        chord_from_numeral(numeral, _named(key))
    except GenexError:
        return False
    return True


def _named(key: str) -> Key:
    return Key.parse(f"{key[0].upper()}{key[1:]} {'major' if key[0].isupper() else 'minor'}")


def drawn_phrases(number: int, level: int) -> tuple[Timeline, list[Phrase]]:
    """The phrases of such an etude, not yet fingered."""
    recipe = parse_recipe(drawn_lesson(number, level))
    timeline = build_timeline(recipe, recipe.versions[0])
    exercise = Etude(level=level, slides=False)
    family = load_groove(FEELS[number % len(FEELS)]).line_family
    player = Player(seed=recipe.fields.seed, title=recipe.title, family=family)
    return timeline, phrases_of(
        timeline, hold_over(chords_of(timeline, "play"), exercise, player), exercise, player
    )
