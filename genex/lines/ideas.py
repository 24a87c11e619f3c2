"""Ideas that come back: a bar of rhythm as it was, a beat later, cut short, its long notes divided."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from genex.lines.rhythm_cells import Words
from genex.score import Meter

Turn = Literal["same", "later", "half later", "cut", "divided"]
"""What an idea is when it comes back."""


def turned(words: Words, turn: Turn, meter: Meter) -> Words:
    """An idea changed: the bar keeps its length, and what falls off its end is left out. An idea that
    nothing would be left of stays as it was."""
    found = _changed(words, turn, meter)
    return found if any("x" in word for word in found) else words


def _changed(words: Words, turn: Turn, meter: Meter) -> Words:
    if turn == "cut":
        kept = words[: max(1, len(words) // 2)]
        rest = len(words) - len(kept)
        # What is struck off the beat is not held over it: that comes with a level of its own.
        tail = "." if len(kept[-1]) > 1 and kept[-1][-1] == "x" else "-"
        return (*kept, *(tail,) * (rest - 1), ".")[: len(words)]
    if turn == "divided":
        return tuple(
            ("x-x" if meter.is_compound else "xx")
            if word == "x" and (index + 1 == len(words) or words[index + 1][0] != "-")
            else word
            for index, word in enumerate(words)
        )
    if turn == "later":
        return (".", *words[:-1])
    if turn == "half later":
        step = 3 if meter.is_compound else 4 if any(len(word) == 4 for word in words) else 2
        if all(step % len(word) == 0 for word in words):
            letters = "".join(_fine(word, step) for word in words)
            moved = ("." * (step // 2) + letters)[: len(letters)]
            return tuple(_plain(moved[at : at + step]) for at in range(0, len(moved), step))
    return words


def _fine(word: str, step: int) -> str:
    """A word in smaller letters: a stroke is held for the rest of its own."""
    each = step // len(word)
    return "".join(letter + ("-" if letter != "." else ".") * (each - 1) for letter in word)


def _plain(word: str) -> str:
    """A word of letters that say nothing after the first is that letter."""
    rest = "." if word[0] == "." else "-"
    if word == word[0] + rest * (len(word) - 1):
        return word[0]
    return f"{word[0]}{word[2]}" if len(word) == 4 and word[1] in "-." and word[3] == "-" else word


def readable(bars: Sequence[Words], meters: Sequence[Meter]) -> tuple[Words, ...]:
    """The bars, a meter each, without ties from a triplet into a pulse that is divided otherwise: nobody
    reads them at sight. The note ends with its triplet."""
    found: list[Words] = []
    before = ""
    for bar, meter in zip(bars, meters, strict=True):
        words = []
        for word in bar:
            if len(before) == 3 and before[-1] == "x" and word[0] == "-" and len(word) != 3:
                word = "." + word[1:]
            words.append(word)
            before = "" if meter.is_compound else word
        found.append(tuple(words))
    return tuple(found)
