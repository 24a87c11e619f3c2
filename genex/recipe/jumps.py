"""Da capo and dal segno: signs that send a player back, and from there to the end or to the coda.

Written in the chart as words, in either case of letters::

    Segno Am | D7 | G To Coda | C |        before a bar: Segno (or 𝄋), Coda (or 𝄌)
    F | E7 | Am | % | D.S. al Coda         behind a bar: To Coda, Fine, and the jump, which is
    Coda Dm | E7 | Am |                    D.C. or D.S., alone, al Fine or al Coda

A chart has one jump, the last thing before the coda or the end. After it repeats are not taken and
the last ending is played [common practice].
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from genex.recipe.repeats import Repeat, RepeatError, Signs, last_time, played

Kind = Literal["D.C.", "D.S."]
Until = Literal["", "Fine", "Coda"]

SIGN = (
    r"(?:(?:D\.[^\S\r\n]?C\.?|DC|D\.[^\S\r\n]?S\.?|DS|(?i:da[^\S\r\n]+capo|dal[^\S\r\n]+segno))"
    r"(?:[^\S\r\n]+(?i:al)[^\S\r\n]+(?i:fine|coda))?"
    r"|(?i:to[^\S\r\n]+coda|coda|segno|fine)|𝄋|𝄌)(?=[\s|]|:\||$)"
)
"""A regular expression for each of the signs."""
_FIELDS = {"Segno": "segno_at", "Coda": "coda_at", "To Coda": "to_coda_at", "Fine": "fine_at"}
"""Signs that are no jump, and the field of ``Marks`` that each stands in."""
_NAMES = {name.replace(" ", "").lower(): name for name in _FIELDS} | {"𝄋": "Segno", "𝄌": "Coda"}


@dataclass(slots=True)
class Marks:
    """The signs of a jump around one bar, each by its offset in the text.

    ``jump`` are kind and ``until`` of a jump behind the bar, at ``jump_at``.
    """

    segno_at: int | None = None
    coda_at: int | None = None
    to_coda_at: int | None = None
    fine_at: int | None = None
    jump: tuple[Kind, Until] | None = None
    jump_at: int = 0

    @property
    def before_at(self) -> int | None:
        """The offset of a sign before the bar, if there is one."""
        return self.coda_at if self.segno_at is None else self.segno_at

    @property
    def ends(self) -> bool:
        """Whether a sign stands behind the bar."""
        return self.jump is not None or self.to_coda_at is not None or self.fine_at is not None

    def parted(self) -> tuple[Marks, Marks]:
        """The signs before the bar, and those behind it."""
        before = Marks(self.segno_at, self.coda_at)
        return before, replace(self, segno_at=None, coda_at=None)


@dataclass(frozen=True, slots=True)
class Jump:
    """A jump in bars as they are played.

    target   index of the played bar that is gone back to
    leaves   that of the first-time bar with ``To Coda`` or ``Fine``; of the last one without them
    at       that of the first bar played after the jump
    again    for each bar played again that of the first-time bar it is
    """

    kind: Kind
    until: Until
    target: int
    leaves: int
    at: int
    again: tuple[int, ...]

    @property
    def name(self) -> str:
        """As charts write it, such as ``D.S. al Coda``."""
        return _jump_name(self.kind, self.until)

    @property
    def end(self) -> int:
        """Index of the first bar that is not played again: that of the coda, if there is one."""
        return self.at + len(self.again)


@dataclass(frozen=True, slots=True)
class Form:
    """Indices of the written bars in the order in which they are played, and what is written once."""

    order: tuple[int, ...]
    repeats: tuple[Repeat, ...]
    jump: Jump | None = None


def sign_name(written: str) -> str:
    """The name of a sign however it is written: ``Segno``, ``To Coda``, ``D.S. al Coda``."""
    return _NAMES.get(_letters(written)) or _jump_name(*_jump_of(written))


def stands_before(written: str) -> bool:
    """Whether a sign stands before its bar, and not behind it."""
    return sign_name(written) in ("Segno", "Coda")


def _letters(written: str) -> str:
    return re.sub(r"[\s.]", "", written).lower()


def _jump_of(written: str) -> tuple[Kind, Until]:
    letters = _letters(written)
    kind: Kind = "D.C." if letters.startswith(("dc", "dacapo")) else "D.S."
    return kind, "Fine" if letters.endswith("fine") else "Coda" if letters.endswith("coda") else ""


def _jump_name(kind: Kind, until: Until) -> str:
    return f"{kind} al {until}" if until else kind


def read_sign(written: str, marks_before: Marks, marks_after: Marks | None, at: int) -> None:
    """Note a sign, which stands before one bar and behind another (None: there is none).

    Raises RepeatError for a sign that has no bar to stand behind, or that stands there already.
    """
    marks = marks_before if stands_before(written) else marks_after
    if marks is None:
        raise RepeatError(f"'{written}' stands before any bar", "write it behind the bar it ends", at)
    field = _FIELDS.get(sign_name(written))
    if field is not None:
        if getattr(marks, field) is not None:
            raise RepeatError(f"'{written}' stands twice", "leave one of them away", at)
        setattr(marks, field, at)
        return
    if marks.jump is not None:
        raise RepeatError("two jumps stand behind one bar", "leave one of them away", at)
    marks.jump, marks.jump_at = _jump_of(written), at


def form_played(bars: Sequence[Signs], marks: Sequence[Marks]) -> Form:
    """The bars as they are played. Raises RepeatError."""
    jumps = [index for index, mark in enumerate(marks) if mark.jump is not None]
    if not jumps:
        _require_no_loose_signs(marks)
        found = played(bars)
        return Form(found.order, found.repeats)
    first = marks[jumps[0]]
    if len(jumps) > 1:
        raise RepeatError(
            "a chart has one jump, and this is the second",
            "write the bars out, or play sections with 'form'",
            marks[jumps[1]].jump_at,
        )
    assert first.jump is not None
    return _Jumping(bars, marks, jumps[0], *first.jump).form()


def _require_no_loose_signs(marks: Sequence[Marks]) -> None:
    for mark in marks:
        for at in (mark.segno_at, mark.coda_at, mark.to_coda_at, mark.fine_at):
            if at is not None:
                raise RepeatError(
                    "no jump leads to this sign",
                    "write D.C. or D.S., al Fine or al Coda, behind the last bar before the coda",
                    at,
                )


class _Jumping:
    """A chart with one jump, behind the bar ``last``."""

    def __init__(
        self, bars: Sequence[Signs], marks: Sequence[Marks], last: int, kind: Kind, until: Until
    ) -> None:
        self.bars, self.marks, self.last, self.kind, self.until = bars, marks, last, kind, until
        self.at = marks[last].jump_at

    def form(self) -> Form:
        end = self.last + 1
        start = self._one("Segno", wanted=self.kind == "D.S.") or 0
        leaves = self._leaves()
        coda = self._one("Coda", wanted=self.until == "Coda")
        if end < len(self.bars) and coda != end:
            raise RepeatError(
                f"nothing leads to the bars behind '{self._said}'",
                "end the chart with the jump, or write Coda before what follows it",
                self.at,
            )
        if coda is not None and coda != end:
            raise RepeatError(
                "the coda stands behind the jump", "write its bars last", self.marks[coda].coda_at or 0
            )
        first = played(self.bars[:end])
        again = [index for index in last_time(self.bars[:end]) if start <= index <= leaves]
        for index in (start, leaves):
            if index not in again:
                mark = self.marks[index]
                raise RepeatError(
                    "this sign is not passed after the jump, when the last ending is played",
                    "put it into the last ending, or before the endings",
                    next(at for at in (mark.segno_at, mark.to_coda_at, mark.fine_at) if at is not None),
                )
        place = {index: number for number, index in reversed(list(enumerate(first.order)))}
        jump = Jump(
            self.kind,
            self.until,
            place[start],
            place[leaves],
            len(first.order),
            tuple(place[index] for index in again),
        )
        tail = played(self.bars[end:]) if coda is not None else None
        order = (*first.order, *again)
        repeats = first.repeats
        if tail is not None:
            repeats += tuple(
                Repeat(len(order) + repeat.first_bar, repeat.body, repeat.endings)
                for repeat in tail.repeats
            )
            order += tuple(end + index for index in tail.order)
        return Form(order, repeats, jump)

    @property
    def _said(self) -> str:
        return _jump_name(self.kind, self.until)

    def _leaves(self) -> int:
        """The bar behind which the second time leaves: that of Fine or To Coda, or the last."""
        found = self._one("Fine", wanted=self.until == "Fine")
        to_coda = self._one("To Coda", wanted=self.until == "Coda")
        leaves = next((index for index in (found, to_coda) if index is not None), self.last)
        if leaves > self.last:
            mark = self.marks[leaves]
            raise RepeatError(
                f"this sign stands behind '{self._said}'",
                "write it behind the bar that is left the second time",
                next(at for at in (mark.fine_at, mark.to_coda_at) if at is not None),
            )
        return leaves

    def _one(self, said: str, *, wanted: bool) -> int | None:
        """The bar that has a sign; None where there is none and none is wanted."""
        places = ((index, getattr(mark, _FIELDS[said])) for index, mark in enumerate(self.marks))
        found = [(index, at) for index, at in places if at is not None]
        if len(found) > 1:
            raise RepeatError(f"'{said}' stands twice", "leave one of them away", found[1][1])
        if bool(found) == wanted:
            return found[0][0] if found else None
        if found:
            raise RepeatError(
                f"'{self._said}' does not lead to this sign",
                f"leave '{said}' away, or write the jump that goes to it",
                found[0][1],
            )
        raise RepeatError(
            f"'{self._said}' has no '{said}' to go by",
            f"write '{said}' {'before' if stands_before(said) else 'behind'} its bar",
            self.at,
        )
