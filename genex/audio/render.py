"""Score to Sound: loops, takes and stems from one soundfont."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from genex.audio.mix import Desk, place
from genex.audio.room import tail_samples
from genex.audio.sound import BLOCK_SAMPLES, DEFAULT_RATE_HZ, Sound
from genex.audio.synth import Soundfont
from genex.audio.timing import Placement, SampleClock, Strike, choke_gaps, placements
from genex.score import Part, Score
from genex.units import beats_to_ticks

if TYPE_CHECKING:
    from genex.audio.sound import Samples

_QUIET = 3e-5  # -90 dBFS: a take ends where it stays below


class Renderer:
    """Renders scores with one soundfont at one sample rate. A context manager; not thread-safe.

    Every distinct note is synthesised once and kept for later scores, up to ``_KEPT_BYTES``.
    """

    def __init__(
        self, soundfont: Path, rate_hz: int = DEFAULT_RATE_HZ, cache_dir: Path | None = None
    ) -> None:
        self.rate_hz = rate_hz
        self._soundfont = Soundfont(soundfont, rate_hz)
        self._notes: dict[Strike, Samples] = {}

    def __enter__(self) -> Renderer:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Free the synthesizer and the kept notes."""
        self._soundfont.close()
        self._notes.clear()

    def loop(self, score: Score, passes: int = 1) -> Sound:
        """The score as a loop: exactly ``passes`` times ``score.length_beats``, tails wrapped.

        Frames: ``passes * score.tempo.sample_at(score.length_beats, rate_hz)``. What rings over
        the end sounds at the start, so the file repeats without a seam.
        """
        import numpy as np

        desk, frames = self._loop_desk(score)
        for part in score.parts:
            desk.add(self._loop_bus(part, score, frames), part.mix.room)
        sound = desk.sound(wrap=True)
        return sound if passes == 1 else Sound(np.tile(sound.samples, (passes, 1)), self.rate_hz)

    def take(self, score: Score) -> Sound:
        """The score once, with its lead-in before the first bar and its tails ringing out."""
        return self._take(score, _all_parts(score))

    def loop_stems(self, score: Score) -> dict[str, Sound]:
        """Each part of a loop alone with its share of the room, all of the loop's length.

        Their sum is ``loop(score)`` (up to float rounding).
        """
        stems = {}
        for part in score.parts:
            desk, frames = self._loop_desk(score)
            desk.add(self._loop_bus(part, score, frames), part.mix.room)
            stems[part.name] = desk.sound(wrap=True)
        return stems

    def _loop_desk(self, score: Score) -> tuple[Desk, int]:
        frames = score.tempo.sample_at(score.length_beats, self.rate_hz)
        return Desk(frames, self.rate_hz), frames

    def _loop_bus(self, part: Part, score: Score, frames: int) -> Samples:
        import numpy as np

        placed = self._sounding(part, SampleClock(score.tempo, self.rate_hz), frames)
        bus = np.zeros((frames, 2), np.float32)
        place(bus, placed, self._notes, part.mix, wrap=True)
        return bus

    def _take(self, score: Score, parts: Sequence[Part]) -> Sound:
        import numpy as np

        lead_beats = score.lead_in.length_beats if score.lead_in else Fraction(0)
        clock = SampleClock(score.tempo, self.rate_hz, lead_beats)
        lead_in_clock = SampleClock(score.tempo.shifted(lead_beats), self.rate_hz)
        heard: list[tuple[Part, list[Placement]]] = []
        for part in parts:
            is_lead_in = score.lead_in is not None and part is score.lead_in.part
            heard.append((part, self._sounding(part, lead_in_clock if is_lead_in else clock, None)))
        ends = [p.start_sample + len(self._notes[p.strike]) for _, placed in heard for p in placed]
        bars_end = clock.sample_at(beats_to_ticks(score.length_beats))
        frames = max([bars_end, *ends]) + tail_samples(self.rate_hz)
        desk = Desk(frames, self.rate_hz)
        for part, placed in heard:
            bus = np.zeros((frames, 2), np.float32)
            place(bus, placed, self._notes, part.mix, wrap=False)
            desk.add(bus, part.mix.room)
        sound = desk.sound(wrap=False)
        loud = np.flatnonzero(np.abs(sound.samples[bars_end:]).max(axis=1) > _QUIET)
        end = bars_end + (int(loud[-1]) + 1 if len(loud) else 0)
        return Sound(sound.samples[:end], self.rate_hz)

    def _sounding(self, part: Part, clock: SampleClock, loop_samples: int | None) -> list[Placement]:
        """A part's placements with chokes resolved and all their strikes rendered."""
        placed = placements(part, clock)
        self._need(p.strike for p in placed)
        if not part.is_percussion:
            return placed
        classes = {
            key: self._soundfont.exclusive_class(part.program, key)
            for key in {p.strike.key for p in placed}
        }
        cut = []
        for placement, gap in choke_gaps(placed, classes, loop_samples):
            rings = gap and len(self._notes[placement.strike]) > gap * BLOCK_SAMPLES
            strike = placement.strike._replace(choke_blocks=gap) if rings else placement.strike
            cut.append(Placement(placement.start_sample, strike))
        self._need(p.strike for p in cut)
        return cut

    def _need(self, strikes: Iterable[Strike]) -> None:
        missing = {strike for strike in strikes if strike not in self._notes}
        if missing:
            self._notes.update(self._soundfont.render(missing))


def _all_parts(score: Score) -> tuple[Part, ...]:
    return (score.lead_in.part, *score.parts) if score.lead_in else score.parts
