"""The words of ABC's music lines, and their lengths [published: ABC standard v2.1, section 4]."""

from __future__ import annotations

import re

from genex.errors import NotationError
from genex.exact import Fraction
from genex.score import Meter
from genex.theory import Key

FIELD = re.compile(r"([A-Za-z]):(.*)")
"""The letter of a field, and what is written behind it; a remark too: see ``without_remark``."""
LENGTH = r"[0-9]{0,4}/{0,6}[0-9]{0,4}"
"""How long a note is: see ``length_of``."""
TOKEN = re.compile(
    rf"""(?P<space>[\s`\\*$]+)
      | (?P<remark>%.*)
      | "(?P<quoted>[^"]*)"
      | (?P<unclosed>")
      | \[(?P<field>[A-Za-z]):(?P<value>[^\[\]]*)\]
      | (?P<bar>\.?(?:(?:\[\||:+\||\|)[\]|]*:*|::+)|\])
      | \[\s*(?P<ending>[1-9][0-9,\-]*)
      | \[(?P<chord>[^\[\]|]*[A-Ga-gzx][^\[\]|]*)\](?P<chord_length>{LENGTH})
      | (?P<note>(?:\^\^?|__?|=)?[A-Ga-g][,']*|[zx])(?P<length>{LENGTH})
      | (?P<bars_rest>[ZX])(?P<bars>[0-9]{{0,4}})
      | (?P<spacer>y[0-9]*)
      | !(?P<mark>[^!\s|]*)!
      | \+(?P<old_mark>[^+\s|]*)\+
      | (?P<grace>\{{[^{{}}]*\}})
      | \((?P<tuplet>[2-9])(?::(?P<in_time_of>[1-9]?)(?::(?P<notes>[0-9]{{0,2}}))?)?
      | (?P<broken>>{{1,3}}|<{{1,3}})
      | (?P<overlay>&)
      | (?P<silent>[()\-.~H-Wh-w!])
      | (?P<stray>.)
    """,
    re.VERBOSE,
)
"""One word of a music line. A digit right behind a bar line is an ending: see ``ENDING``."""

ENDING = re.compile(r"\s?([1-9][0-9,\-]*)(?![0-9/])")
_IN_TIME_OF = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
_MODES = {
    "": "major", "maj": "major", "ion": "ionian", "m": "minor", "min": "minor", "aeo": "aeolian",
    "dor": "dorian", "phr": "phrygian", "lyd": "lydian", "mix": "mixolydian", "loc": "locrian",
}  # fmt: skip
"""Modes by their first three letters [published: ABC standard v2.1, 3.1.14]."""
_KEY = re.compile(r"\s*([A-G])([#b]?)\s*(?:(m)(?=\s|$)|([A-Za-z]{3})[A-Za-z]*(?![=A-Za-z]))?")
_PART = re.compile(r"([A-Za-z])\s*([0-9]{0,2})|(\()|\)\s*([0-9]{0,2})")
_MOST_PARTS = 256


def without_remark(written: str) -> str:
    """A line, or the rest of one, up to the remark that ends it."""
    return re.split(r"(?<!\\)%", written)[0]


def tune_number(line: str) -> str:
    """The number behind X:, without leading zeros."""
    written = line[2:].split("%")[0].strip()
    return written.lstrip("0") or "0"


def usual_unit(meter: Meter) -> Fraction:
    """In quarter notes: a sixteenth in meters below 3/4, else an eighth [published: 3.1.7]."""
    return Fraction(1, 4) if meter.bar_beats < 3 else Fraction(1, 2)


def length_of(written: str) -> Fraction:
    """``3/2``, ``/``, ``//``, ``2``: a length in units. A length of nothing is one unit."""
    number, slashes, under = written.partition("/")
    more = len(under) - len(under.lstrip("/"))
    below = under.lstrip("/")
    value = Fraction(int(number or 1))
    divisor = int(below) if below else 2
    return value if not slashes or not divisor else value / (divisor * 2**more)


def tuplet(count: int, in_time_of: str | None, notes: str | None, meter: Meter) -> tuple[Fraction, int]:
    """The factor of a tuplet's lengths, and how many notes it is of [published: ABC v2.1, 4.13]."""
    usual = _IN_TIME_OF.get(count, 3 if meter.is_compound else 2)
    return Fraction(int(in_time_of or usual), count), int(notes or count)


def broken(signs: str) -> tuple[Fraction, Fraction]:
    """The factors of two notes: ``a>b`` dots the first and halves the second; more signs dot more
    [published: 4.4]."""
    short = Fraction(1, 2 ** len(signs))
    return (2 - short, short) if signs[0] == ">" else (short, 2 - short)


def endings(written: str) -> tuple[int, ...]:
    """``1``, ``1,3``, ``1-3``: passes, at most 16."""
    found: list[int] = []
    for part in written.split(","):
        first, _, last = part.partition("-")
        if first.isdigit():
            end = int(last[:3]) if last.isdigit() else int(first[:3])
            found += range(int(first[:3]), min(end, 16) + 1)
    return tuple(number for number in found if number <= 16)


def repeat_dots(sign: str) -> tuple[int, int]:
    """How many dots of a repeat stand before and behind a bar line: ``:|`` one, ``::`` one each."""
    if sign.strip(":") == "" and len(sign) > 1:
        return len(sign) // 2, len(sign) // 2
    before = sign[: len(sign) - len(sign.lstrip(".:"))].count(":")
    return before, len(sign) - len(sign.rstrip(":"))


def divides(sign: str) -> bool:
    """Whether a bar line ends a passage: a double one, or the last."""
    return "||" in sign or "]" in sign or "[|" in sign


def meter_of(text: str) -> Meter | None:
    """``6/8``, ``C``, ``C|``, ``2+3/8``. None for free meter. Raises NotationError."""
    plain = text.strip()
    if plain.lower() in ("none", ""):
        return None
    if plain in ("C", "c"):
        return Meter(4, 4)
    if plain in ("C|", "c|"):
        return Meter(2, 2)
    above, _, below = plain.replace("(", "").replace(")", "").partition("/")
    terms = [term.strip() for term in above.split("+")]
    if len(terms) > 1 and all(term.isdecimal() and len(term) < 3 for term in terms):
        return Meter.parse(f"{sum(map(int, terms))}/{below}")
    return Meter.parse(plain)


def key_of(text: str) -> Key | None:
    """``G``, ``Am``, ``D mix``, ``Bb dorian``. None for no key. Raises NotationError."""
    plain = text.strip()
    if not plain or plain.lower().startswith("none") or re.match(r"[a-z]+=|[\^_=]", plain):
        return None
    match = _KEY.match(plain)
    if match is None:
        raise NotationError(f"'{text}' is not a key", hint="write for example K:G or K:A dorian")
    letters = (match[3] or match[4] or "").lower()
    mode = _MODES.get(letters)
    if mode is None:  # exp, clef names and other words behind the tonic
        mode = "major"
    return Key.parse(f"{match[1]}{match[2]} {mode}")


def parts_of(text: str) -> tuple[str, ...]:
    """The order of parts: ``AABB``, ``A3B``, ``((AB)3.C)2`` [published: ABC v2.1, 3.1.9]."""
    levels: list[list[str]] = [[]]
    for match in _PART.finditer(text):
        if match[1]:
            levels[-1] += [match[1]] * int(match[2] or 1)
        elif match[3]:
            levels.append([])
        elif len(levels) > 1:
            inner = levels.pop()
            levels[-1] += inner * int(match[4] or 1)
        if sum(map(len, levels)) > _MOST_PARTS or len(levels) > 20:
            raise NotationError(f"the order of parts has more than {_MOST_PARTS}")
    return tuple(name for level in levels for name in level)
