"""Segno, coda, da capo and the like in files of others, in the words of a recipe's chart.

Files write them as signs, as words or as what a player should do; a bar keeps each once.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from genex.errors import Place
from genex.readers.charts.foreign_chart import ForeignBar, FormSign
from genex.recipe.jumps import SIGN, sign_name, stands_before

_SIGN = re.compile(SIGN)
_DECORATIONS = {
    "segno": "Segno", "coda": "Coda", "fine": "Fine", "d.c.": "D.C.", "d.s.": "D.S.",
    "dacapo": "D.C.", "dacoda": "To Coda", "d.c.alfine": "D.C. al Fine", "d.s.alfine": "D.S. al Fine",
    "d.c.alcoda": "D.C. al Coda", "d.s.alcoda": "D.S. al Coda",
}  # fmt: skip
"""Decorations of tunes [published: ABC standard v2.1, 4.14]."""


def decoration(mark: str) -> str | None:
    """The sign that a decoration of ABC stands for."""
    return _DECORATIONS.get(mark.lower())


def sign_in_words(text: str) -> str | None:
    """The sign that a text is, as a recipe writes it; None for any other text."""
    plain = " ".join(text.split()).strip(" .()")
    if not _SIGN.fullmatch(plain) and not _SIGN.fullmatch(plain + "."):
        return None
    return sign_name(plain)


def add_sign(bar: ForeignBar, name: str, place: Place) -> None:
    """Keep a sign with its bar; of two jumps behind it the one that says more."""
    signs = bar.before if stands_before(name) else bar.behind
    kin = [one for one in signs if one.name.startswith(name) or name.startswith(one.name)]
    if any(len(one.name) >= len(name) for one in kin):
        return
    for one in kin:
        signs.remove(one)
    signs.append(FormSign(name, place))


def complete(bars: Sequence[ForeignBar]) -> None:
    """Make signs whole that files leave half unsaid.

    Of two coda signs the first is where the second time leaves; a jump alone goes on to what there is.
    """
    codas = [(bar, one) for bar in bars for one in bar.before if one.name == "Coda"]
    named = {one.name for bar in bars for one in bar.behind}
    if len(codas) > 1 and "To Coda" not in named:
        bar, first = codas[0]
        bar.before.remove(first)
        bar.behind.append(FormSign("To Coda", first.place))
        named.add("To Coda")
    until = "Coda" if "To Coda" in named else "Fine" if "Fine" in named else ""
    for bar in bars:
        for index, one in enumerate(bar.behind):
            if one.name in ("D.C.", "D.S.") and until:
                bar.behind[index] = FormSign(f"{one.name} al {until}", one.place)
