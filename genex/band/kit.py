"""The players' instruments: drum voices and the limbs that reach them, and what melodic parts play.

A drummer has two hands and two feet. Every voice belongs to hands, the kick foot or the hi-hat
foot; ``playable`` keeps what one player can strike at one instant.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from genex.exact import Fraction
from genex.score import INSTRUMENTS, KITS, PERCUSSION

HANDS = 2


class Limb(Enum):
    """What strikes a drum voice."""

    HAND = "hand"
    KICK_FOOT = "kick foot"
    HAT_FOOT = "hi-hat foot"


@dataclass(frozen=True, slots=True)
class DrumVoice:
    """A thing to strike: its percussion key, the limb, and how long it is let ring in beats."""

    name: str
    key: int
    limb: Limb
    ring_beats: Fraction


_FEET = {"kick": Limb.KICK_FOOT, "pedal hi-hat": Limb.HAT_FOOT}
_RINGING = {
    "crash": 4, "second crash": 4, "ride": 2, "second ride": 2, "ride bell": 2, "splash": 2,
    "open hi-hat": 1, "open triangle": 1, "brush sweep": 2,
}  # fmt: skip
"""What rings for long; a sweep goes on as long as the brush moves, which is up to the next one."""

_BRUSHES = {"brush tap": 38, "brush slap": 39, "brush sweep": 40}
"""On the brush kit the snare keys are strokes of the brush [common practice: GS drum channel]."""


def _voice(name: str, key: int) -> DrumVoice:
    limb = _FEET.get(name, Limb.HAND)
    return DrumVoice(name, key, limb, Fraction(_RINGING.get(name, 0)) or Fraction(1, 2))


VOICES: Mapping[str, DrumVoice] = {
    name: _voice(name, key) for name, key in {**PERCUSSION, **_BRUSHES}.items()
}
BRUSH_ONLY = frozenset(_BRUSHES)
KIT_PROGRAMS: Mapping[str, int] = KITS

COMPING_GUITARS = tuple(name for name in INSTRUMENTS if name.endswith("guitar"))
BASSES = tuple(name for name in INSTRUMENTS if name.endswith("bass"))


def program_of(instrument: str) -> int:
    """General MIDI program of an instrument. Raises KeyError."""
    return INSTRUMENTS[instrument]


def playable(strokes: Mapping[str, int]) -> dict[str, int]:
    """The strokes of one instant that one drummer can play, loudest first where hands run short.

    ``strokes`` maps voice names to loudness. One stroke a foot; two hands; an open hi-hat cannot
    be struck while its pedal closes.
    """
    kept: dict[str, int] = {}
    hands = HANDS
    feet: set[Limb] = set()
    keys: set[int] = set()
    for name, loudness in sorted(strokes.items(), key=lambda item: (-item[1], item[0])):
        voice = VOICES[name]
        if voice.key in keys or (name == "pedal hi-hat" and "open hi-hat" in strokes):
            continue
        if voice.limb is Limb.HAND:
            if hands == 0:
                continue
            hands -= 1
        elif voice.limb in feet:
            continue
        else:
            feet.add(voice.limb)
        keys.add(voice.key)
        kept[name] = loudness
    return kept
