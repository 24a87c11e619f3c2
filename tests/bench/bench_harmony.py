"""How long the harmony of a thousand chords takes to read, and what share of scales is far-fetched.

Run as ``python -m tests.bench.bench_harmony``. It prints

seconds   of processor time for a thousand chords: a tune over and over, and chords at random, in a
          key that is given and in one that has to be found, against parsing their symbols
foreign   share of the chords of the folk tunes with chord symbols in music21's corpus whose scale has
          more notes foreign to the key than a mode of the major scale that holds the chord
"""

from __future__ import annotations

import random
import re
import time
from collections.abc import Iterator

from music21 import corpus

from genex.errors import GenexError
from genex.theory import SCALES, Chord, Key, Place, analyse, parse_chord

_TUNE = "Fmaj7 Em7b5 A7 Dm7 G7 Cm7 F7 Bb7 Bbm7 Eb7 Am7 D7 Abm7 Db7 Gm7 C7".split()
_ROOTS = "C Db D Eb E F F# G Ab A Bb B".split()
_SUFFIXES = ["", "m", "7", "m7", "maj7", "m7b5", "dim7", "7alt", "6", "m6", "sus4", "9"]
_ABC_MODES = {"": "major", "m": "minor", "min": "minor", "mix": "mixolydian", "dor": "dorian"}
_MODES = ["major", "dorian", "phrygian", "lydian", "mixolydian", "natural minor", "locrian"]


def main() -> None:
    rng = random.Random(1)
    charts = {
        "tune": (_TUNE * 63)[:1000],
        "random": [rng.choice(_ROOTS) + rng.choice(_SUFFIXES) for _ in range(1000)],
    }
    for name, symbols in charts.items():
        parse_chord.cache_clear()
        start = time.process_time()
        places = [Place(parse_chord(symbol)) for symbol in symbols]
        parsing = time.process_time() - start
        for key in (Key.parse("F"), None):
            start = time.process_time()
            analyse(places, key)
            seconds = time.process_time() - start
            named = str(key or "key to be found")
            print(f"{name:<7} {named:<16} {seconds:.3f} s, {seconds / parsing:.0f} x parsing")
    tunes = list(folk_tunes())
    found = [foreign for chords, key in tunes for foreign in far_fetched(chords, key)]
    print(f"foreign {sum(found)} of {len(found)} chords in {len(tunes)} tunes")


def far_fetched(chords: list[Chord], key: Key) -> Iterator[bool]:
    """For each chord whether a mode of the major scale would have been nearer to the key."""
    own = {note.pitch_class for note in key.scale}
    for reading in analyse([Place(chord) for chord in chords], key).readings:
        chord, scale = reading.chord, reading.scale
        assert chord is not None and scale is not None
        holding = [SCALES[name] for name in _MODES if SCALES[name].holds(chord)]
        foreign = len(scale.pitch_classes(chord.root) - own)
        yield foreign > min((len(s.pitch_classes(chord.root) - own) for s in holding), default=foreign)


def folk_tunes() -> Iterator[tuple[list[Chord], Key]]:
    """The tunes in ABC notation that have chord symbols, with their keys."""
    for path in corpus.getPaths(fileExtensions=["abc"]):
        for tune in re.split(r"^X:", path.read_text("utf-8", errors="replace"), flags=re.MULTILINE)[1:]:
            head = re.search(r"^K:\s*([A-G][#b]?)\s*([A-Za-z]{0,3})", tune, re.MULTILINE)
            body = "\n".join(line for line in tune.splitlines() if not re.match(r"[A-Za-z]:|%", line))
            chords = list(_readable(re.findall(r'"([^"]*)"', body)))
            if head is not None and len(chords) >= 4:
                yield chords, Key.parse(f"{head[1]} {_ABC_MODES.get(head[2].lower(), 'major')}")


def _readable(symbols: list[str]) -> Iterator[Chord]:
    for symbol in symbols:
        try:
            yield parse_chord(symbol)
        except GenexError:
            continue


if __name__ == "__main__":
    main()
