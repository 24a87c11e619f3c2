"""Reading the hits of a bar: the counts between braces, as in ``C7 {1 2& 4}``."""

from __future__ import annotations

import re

from genex.exact import Fraction
from genex.score import HELD_SIGN, Hit, Meter, counted_hits, parts_of_beat

_COUNT = re.compile(r"(?P<beat>[0-9]{1,2})?(?P<part>&|\+|e|a|la|li)?(?P<held>-)?")


class HitError(Exception):
    """A count that is wrong; ``at`` is its offset in the text."""

    def __init__(self, message: str, hint: str, at: int) -> None:
        super().__init__(message)
        self.message, self.hint, self.at = message, hint, at


def read_hits(text: str, meter: Meter) -> tuple[Hit, ...]:
    """The hits of a bar from the counts between its braces. Raises HitError."""
    parts = parts_of_beat(meter)
    pulses = meter.pulses
    struck: list[tuple[Fraction, str]] = []
    beat = 0
    for word in re.finditer(r"\S+", text):
        match = _COUNT.fullmatch(word[0].lower())
        beat = int(match["beat"]) if match is not None and match["beat"] else beat
        part = "" if match is None or match["part"] is None else match["part"].replace("+", "&")
        is_count = match is not None and (match["beat"] or match["part"])
        if not is_count or part not in parts or not 1 <= beat <= len(pulses):
            raise HitError(
                f"'{word[0]}' is no count of a bar of {meter}",
                f"write the counts that are struck, {_example(meter)}; 1{HELD_SIGN} is held",
                word.start(),
            )
        at = pulses[beat - 1] + parts[part] * meter.pulse_beats
        if at >= meter.bar_beats or (struck and at <= struck[-1][0]):
            raise HitError(
                f"'{word[0]}' does not come after the count before it"
                if at < meter.bar_beats
                else f"'{word[0]}' lies behind the end of a bar of {meter}",
                f"write the counts of the bar in order, {_example(meter)}",
                word.start(),
            )
        held = HELD_SIGN if match is not None and match["held"] else ""
        struck.append((at, f"{beat}{part}{held}"))
    return counted_hits(struck, meter)


def _example(meter: Meter) -> str:
    return f"as in {{1 {min(2, len(meter.pulses))}&}}"
