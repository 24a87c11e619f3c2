"""What asks the student to play something back, or to name it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from genex.exercises.exercise import ChartFacts, Fault
from genex.exercises.families import WITHOUT_GUIDE, Placed, Study
from genex.exercises.models.own_lines import Picked
from genex.exercises.registry import register
from genex.text.field_kinds import AS_LIST, Text, Whole

Ask = Literal["interval", "chord", "inversion", "degree", "cadence", "progression", "bass", "rhythm"]
AnswerOver = Literal["same chord", "next chord"]
ONE_CHORD_LEVEL = 5
"""Up to this level a call can stay on one chord."""


OF_MADE_CALLS = frozenset(
    {"calls", "level", "to_level", "may_return", "keep_form", "answer_over", "only", "slides"}
)
OF_WRITTEN_CALLS = frozenset({"number", "octave"})
"""Fields that say nothing of calls of the other sort."""


@register
class Calls(Picked, Placed):
    """Call and response: a phrase, then as long a silence to play it back."""

    composed_by = "genex.compose.own_calls:calls_and_responses"
    has_own_chart = True
    hears_tempo = True
    asks = True
    is_full = True
    usual_parts = WITHOUT_GUIDE
    usual_outputs = ("midi", "loop", "answers", "captions")
    usual_blocks = ("questions", "care")  # what is played stands in the answer key

    kind: Literal["calls"] = "calls"
    file: Text | None = Field(
        default=None,
        description="File with a line of your own, relative to the recipe, instead of made calls.",
        examples=["lick.mid"],
    )
    calls: Whole = Field(default=8, ge=1, le=100, description="How many calls.")
    bars: Literal[1, 2, 4] = Field(default=2, description="Bars of a call.")
    level: Whole = Field(default=1, ge=1, le=6, description="Level of the first call.")
    to_level: Whole | None = Field(
        default=None, ge=1, le=6, description="Level of the last call; that of the first if left away."
    )
    repeats: Whole = Field(default=1, ge=1, le=8, description="How often each call is given.")
    answer: bool = Field(default=False, description="After the silence the call comes once more.")
    announce: bool = Field(default=False, description="A bar before with the first note.")
    signal: bool = Field(default=False, description="A soft bell when the silence begins.")
    may_return: bool = Field(default=False, description="A call may come again in the track.")
    keep_form: bool = Field(default=False, description="The form runs on under call and silence.")
    answer_over: AnswerOver = Field(
        default="same chord",
        description="Played back over the same chord, or moved to the next one, degree for degree.",
    )
    only: Literal["rhythm", "melody"] | None = Field(
        default=None,
        description="The rhythm alone, on one note, or the notes in even time; both if left away.",
    )
    slides: bool = Field(default=False, description="Some held notes are slid into.")

    @property
    def has_own_line(self) -> bool:
        """Whether the calls are not made but written."""
        return any(line is not None for line in (self.abc, self.tab, self.file))

    def files(self) -> dict[str, str]:
        return {} if self.file is None else {"file": self.file}

    def _strange(self, name: str) -> tuple[str, str]:
        """What is wrong about a field of calls of the other sort, and what to write instead."""
        if not self.has_own_line:
            return f"'{name}' is of a line, and none is written", "write 'abc', 'tab' or 'file'"
        if name == "keep_form":
            hint = "take 'kind: line' with 'rest_bars' to answer while the form runs on"
            return "calls of your own have their bars again below the answer", hint
        return f"'{name}' is of calls that are made, and these are written", "leave it away"

    def faults(self, chart: ChartFacts) -> Iterator[Fault]:
        yield from super().faults(chart)
        yield from self.only_one_of("abc", "tab", "file")
        strange = OF_MADE_CALLS if self.has_own_line else OF_WRITTEN_CALLS
        for name in sorted(strange & self.model_fields_set):
            yield Fault(*self._strange(name), (name,))
        if self.answer_over == "same chord":
            return
        path = ("answer_over",)
        if self.only == "rhythm":
            yield Fault("a rhythm on one note has nothing to move to the next chord", "keep one", path)
        if self.keep_form:
            yield Fault("'keep_form' and 'answer_over' both say what sounds below", "keep one", path)
        if max(self.level, self.to_level or 0) > ONE_CHORD_LEVEL:
            yield Fault(
                f"calls above level {ONE_CHORD_LEVEL} go through changes and cannot move to one chord",
                f"choose levels up to {ONE_CHORD_LEVEL}",
                path,
            )


@register
class Drill(Study):
    """A recognition drill: question, silence to name it, confirmation in sound."""

    composed_by = "genex.lines.drills:drill"
    needs_chords = False
    asks = True
    is_full = True
    usual_parts = ("exercise",)
    usual_outputs = ("midi", "loop", "answers", "captions")
    usual_blocks = ("questions", "care", "key")

    kind: Literal["drill"] = "drill"
    ask: Ask = Field(description="What is to be recognised.")
    items: Annotated[tuple[Text, ...], AS_LIST] | None = Field(
        default=None,
        description="What is asked; the usual ones if left away.",
        examples=["minor third, major third"],
    )
    rounds: Whole = Field(default=2, ge=1, le=20, description="How often each item is asked.")
    direction: Literal["ascending", "descending", "together"] = Field(
        default="ascending", description="How intervals are played."
    )
    think_bars: Whole = Field(default=1, ge=1, le=8, description="Bars of silence after a question.")
    position: Whole = Field(default=5, ge=1, le=15, description="Fret of the first finger.")
