"""Da capo and dal segno: signs that send a player back, and from there to the end or to the coda.

Written in the chart as words, in either case of letters::

    Segno Am | D7 | G To Coda | C |        before a bar: Segno (or 𝄋), Coda (or 𝄌)
    F | E7 | Am | % | D.S. al Coda         behind a bar: To Coda, Fine, and the jump, which is
    Coda Dm | E7 | Am |                    D.C. or D.S., alone, al Fine or al Coda

A jump is the last thing before its coda or the end; a coda may end with another one. Each is taken once.
After it repeats are not taken and the last ending is played; of several places with ``To Coda`` the
first jump leaves at the first, and so on; D.S. goes to the nearest Segno before it [common practice].
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
_LEAVES = {"Coda": "To Coda", "Fine": "Fine", "": ""}
"""The sign behind the bar that a jump leaves at, by what the jump leads to."""
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
    also     indices of other first-time bars behind which the same sign stands as behind ``leaves``, in
             a section that a form has several times
    """

    kind: Kind
    until: Until
    target: int
    leaves: int
    at: int
    again: tuple[int, ...]
    also: tuple[int, ...] = ()

    @property
    def name(self) -> str:
        """As charts write it, such as ``D.S. al Coda``."""
        return _jump_name(self.kind, self.until)

    @property
    def leave_name(self) -> str:
        """``To Coda`` or ``Fine``, empty where there is none."""
        return _LEAVES[self.until]

    @property
    def end(self) -> int:
        """Index of the first bar that is not played again: that of the coda, if there is one."""
        return self.at + len(self.again)


@dataclass(frozen=True, slots=True)
class Form:
    """Indices of the written bars in the order in which they are played, and what is written once."""

    order: tuple[int, ...]
    repeats: tuple[Repeat, ...]
    jumps: tuple[Jump, ...] = ()


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


class LooseSignError(RepeatError):
    """A sign without its counterpart, which another section may have."""


def _unreached(kind: type[RepeatError], said: str, at: int) -> RepeatError:
    """The error for bars behind a jump, which nothing leads to."""
    return kind(
        f"nothing leads to the bars behind '{said}'",
        "end the chart with the jump, or write Coda before what follows it",
        at,
        form_hint="end 'form' with this section, or write Coda before the next one",
    )


def form_played(bars: Sequence[Signs], marks: Sequence[Marks]) -> Form:
    """The bars as they are played. Raises RepeatError."""
    jumps = [index for index, mark in enumerate(marks) if mark.jump is not None]
    if not jumps:
        _require_no_loose_signs(marks)
        found = played(bars)
        return Form(found.order, found.repeats)
    return _Jumping(bars, marks, jumps).form()


def _require_no_loose_signs(marks: Sequence[Marks]) -> None:
    for mark in marks:
        for at in (mark.segno_at, mark.coda_at, mark.to_coda_at, mark.fine_at):
            if at is not None:
                raise LooseSignError(
                    "no jump leads to this sign",
                    "write D.C. or D.S., al Fine or al Coda, behind the last bar before the coda",
                    at,
                )


class _Jumping:
    """A chart with jumps behind some of its bars."""

    def __init__(self, bars: Sequence[Signs], marks: Sequence[Marks], jumps: Sequence[int]) -> None:
        self.bars, self.marks, self.jumps = bars, marks, jumps
        self.order: list[int] = []
        self.repeats: list[Repeat] = []
        self.used: set[int] = set()
        """Offsets of the signs that a jump goes by."""

    def form(self) -> Form:
        start, codas = 0, 0
        found = []
        for last in self.jumps:
            self._play(start, last + 1)
            jump, start = self._taken(last, codas)
            codas += jump.until == "Coda"
            found.append(jump)
            self.order += [self.order[index] for index in jump.again]
        self._require_all_used()
        if start < len(self.bars):
            self._play(start, len(self.bars))
        return Form(tuple(self.order), tuple(self.repeats), tuple(found))

    def _play(self, start: int, end: int) -> None:
        """Bars as they are played the first time."""
        part = played(self.bars[start:end])
        before = len(self.order)
        self.repeats += [replace(one, first_bar=before + one.first_bar) for one in part.repeats]
        self.order += [start + index for index in part.order]

    def _taken(self, last: int, codas: int) -> tuple[Jump, int]:
        """The jump behind a bar, after so many jumps to a coda, and where the music goes on after it."""
        mark = self.marks[last]
        assert mark.jump is not None
        kind, until = mark.jump
        said = _jump_name(kind, until)
        target = self._before(last, "Segno", said, mark.jump_at)[-1] if kind == "D.S." else 0
        leaves, also = last, list[int]()
        if until:
            leaves, *also = self._leaving(last, target, _LEAVES[until], said, mark.jump_at, codas)
        end = last + 1
        if until == "Coda":
            self._require_coda(end, said, mark.jump_at)
        elif end < len(self.bars):
            coda_at = self.marks[end].coda_at
            if coda_at is None:
                raise _unreached(LooseSignError, said, mark.jump_at)
            raise LooseSignError(
                f"'{said}' does not lead to this sign",
                "leave 'Coda' away, or write the jump that goes to it",
                coda_at,
            )
        return self._jump(kind, until, last, target, leaves, also), end

    def _jump(
        self, kind: Kind, until: Until, last: int, target: int, leaves: int, also: Sequence[int]
    ) -> Jump:
        again = [index for index in last_time(self.bars[: last + 1]) if target <= index <= leaves]
        for index in (target, leaves):
            if index not in again:
                mark = self.marks[index]
                raise RepeatError(
                    "this sign is not passed after the jump, when the last ending is played",
                    "put it into the last ending, or before the endings",
                    next(at for at in (mark.segno_at, mark.to_coda_at, mark.fine_at) if at is not None),
                )
        place = {index: number for number, index in reversed(list(enumerate(self.order)))}
        return Jump(
            kind,
            until,
            place[target],
            place[leaves],
            len(self.order),
            tuple(place[index] for index in again),
            tuple(place[index] for index in also if index in place),
        )

    def _leaving(self, last: int, target: int, name: str, said: str, at: int, number: int) -> list[int]:
        """The bar behind which a jump leaves, the ``number``-th of several; then those that have the
        same sign, as a section is played several times."""
        found = [index for index in self._before(last, name, said, at) if index >= target]
        if not found:
            raise RepeatError(
                f"'{said}' comes to no '{name}'",
                "write it behind the bar that is left the second time, after Segno",
                at,
            )
        field = _FIELDS[name]
        signs = list(dict.fromkeys(getattr(self.marks[index], field) for index in found))
        wanted = signs[min(number, len(signs) - 1)]
        return [index for index in found if getattr(self.marks[index], field) == wanted]

    def _before(self, last: int, name: str, said: str, at: int) -> list[int]:
        """The bars up to one that have a sign, at least one."""
        field = _FIELDS[name]
        places = [(index, getattr(mark, field)) for index, mark in enumerate(self.marks)]
        found = [(index, sign) for index, sign in places if sign is not None]
        if not found:
            raise self._missing(name, said, at)
        inside = [(index, sign) for index, sign in found if index <= last]
        if not inside:
            raise RepeatError(
                f"this sign stands behind '{said}'",
                "write it behind the bar that is left the second time"
                if name != "Segno"
                else "write it before the bar that the jump goes to",
                found[0][1],
            )
        if name == "Fine" or len(self.jumps) == 1:
            others = [sign for _, sign in found if sign != found[0][1]]
            if others:
                raise RepeatError(f"'{name}' stands twice", "leave one of them away", others[0])
        self.used |= {sign for _, sign in inside}
        return [index for index, _ in inside]

    def _require_coda(self, end: int, said: str, at: int) -> None:
        """Raise RepeatError unless the bar behind a jump begins with its coda."""
        found = [index for index, mark in enumerate(self.marks) if mark.coda_at is not None]
        if not found:
            raise self._missing("Coda", said, at)
        if len(self.jumps) == 1 and len({self.marks[index].coda_at for index in found}) > 1:
            at = self.marks[found[1]].coda_at or 0
            raise RepeatError("'Coda' stands twice", "leave one of them away", at)
        if end not in found:
            if found[-1] > end:
                raise _unreached(RepeatError, said, at)
            raise RepeatError(
                "the coda stands behind the jump", "write its bars last",
                self.marks[found[0]].coda_at or 0,
            )  # fmt: skip
        self.used.add(self.marks[end].coda_at or 0)

    @staticmethod
    def _missing(name: str, said: str, at: int) -> LooseSignError:
        behind = "before" if stands_before(name) else "behind"
        return LooseSignError(
            f"'{said}' has no '{name}' to go by", f"write '{name}' {behind} its bar", at
        )

    def _require_all_used(self) -> None:
        for mark in self.marks:
            for name, field in _FIELDS.items():
                at = getattr(mark, field)
                if at is not None and at not in self.used:
                    last = self.marks[self.jumps[-1]].jump
                    assert last is not None
                    raise LooseSignError(
                        f"'{_jump_name(*last)}' does not lead to this sign",
                        f"leave '{name}' away, or write the jump that goes to it",
                        at,
                    )
