"""Score to Sound: loops, takes and stems from one soundfont."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from threading import Thread

from genex.audio.held import Note
from genex.audio.key_levels import KeyLevels
from genex.audio.mix import Shelf, Track, mix_down
from genex.audio.notes import NoteBank
from genex.audio.one_thread import one_thread
from genex.audio.proven import proven_traits
from genex.audio.room import tail_samples
from genex.audio.sf2 import content_digest
from genex.audio.sound import BLOCK_SAMPLES, DEFAULT_RATE_HZ, Sound, audible_frames
from genex.audio.store import NoteStore
from genex.audio.synth import Soundfont
from genex.audio.timing import Placement, SampleClock, Strike, choke_gaps, placements
from genex.score import Part, Score
from genex.units import beats_to_ticks

_SHELF_BYTES = 32 << 20
_QUIET = 3e-5  # -90 dBFS: a take ends where it stays below


class Renderer:
    """Renders scores with one soundfont at one sample rate. A context manager; not thread-safe.

    Every distinct note is synthesised once and kept for later scores, up to a limit in memory;
    with ``cache_dir``, held notes are kept on disk too, under the soundfont's digest, which
    ``digest`` tells if it is known already. ``drums_come_again`` may be set where the scores to come
    have the same drums, as those in other keys do.
    """

    def __init__(
        self,
        soundfont: Path,
        rate_hz: int = DEFAULT_RATE_HZ,
        cache_dir: Path | None = None,
        digest: str | None = None,
    ) -> None:
        self.rate_hz = rate_hz
        self.drums_come_again = False
        self._soundfont = Soundfont(soundfont, rate_hz)
        digest = digest or content_digest(soundfont)
        self._store = NoteStore(cache_dir, self._soundfont, digest) if cache_dir else None
        self._levels = KeyLevels(soundfont, digest)
        proven = proven_traits(digest, rate_hz, self._soundfont.synthesizer_version)
        self._bank = NoteBank(self._soundfont, self._store, proven)
        self._saving: Thread | None = None
        self._shelf = Shelf(_SHELF_BYTES)

    def __enter__(self) -> Renderer:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Free the synthesizer and finish saving notes. Closing twice is allowed."""
        if self._saving:
            self._saving.join()
            self._saving = None
        self._soundfont.close()

    @one_thread()
    def loop(self, score: Score, passes: int = 1) -> Sound:
        """The score as a loop: exactly ``passes`` times ``score.length_beats``, tails wrapped.

        Frames: ``passes * score.tempo.sample_at(score.length_beats, rate_hz)``. What rings over
        the end sounds at the start, so the file repeats without a seam.
        """
        return self._loop(score, score.parts).repeated(passes)

    @one_thread()
    def take(self, score: Score) -> Sound:
        """The score once, with its lead-in before the first bar and its tails ringing out."""
        lead_beats = score.lead_in_beats
        clock = SampleClock(score.tempo, self.rate_hz, lead_beats)
        parts = [(part, clock) for part in score.parts]
        if score.lead_in:
            lead_in_clock = SampleClock(score.tempo.shifted(lead_beats), self.rate_hz)
            parts.insert(0, (score.lead_in.part, lead_in_clock))
        tracks = self._tracks(parts, None)
        bars_end = clock.sample_at(beats_to_ticks(score.length_beats))
        notes_end = max((at + note.frames for track in tracks for at, note in track.notes), default=0)
        frames = max(bars_end, notes_end) + tail_samples(self.rate_hz)
        sound = mix_down(tracks, frames, self.rate_hz, wrap=False, shelf=self._shelf)
        end = max(bars_end, audible_frames(sound.planes, _QUIET))
        return Sound.of_planes(sound.planes[:, :end], self.rate_hz)

    @one_thread()
    def stem(self, score: Score, name: str, passes: int = 1) -> Sound:
        """A part of the loop alone with its share of the room, of the loop's length.

        The sum of all is ``loop(score, passes)`` up to the rounding of float numbers.
        """
        return self._loop(score, [score.part(name)]).repeated(passes)

    def _loop(self, score: Score, parts: Iterable[Part]) -> Sound:
        frames = score.tempo.sample_at(score.length_beats, self.rate_hz)
        clock = SampleClock(score.tempo, self.rate_hz)
        tracks = self._tracks([(part, clock) for part in parts], frames)
        return mix_down(tracks, frames, self.rate_hz, wrap=True, shelf=self._shelf)

    def _save_meanwhile(self) -> None:
        """Save new notes while the mix goes on: checksums and writing need no Python lock."""
        unsaved = self._bank.take_unsaved()
        if self._store and unsaved:
            if self._saving:
                self._saving.join()
            self._saving = Thread(target=self._store.write, args=(unsaved,), name="genex-notes")
            self._saving.start()

    def _tracks(
        self, parts: Sequence[tuple[Part, SampleClock]], loop_samples: int | None
    ) -> list[Track]:
        self._bank.forget()
        placed = [placements(part, clock) for part, clock in parts]
        self._bank.notes(p.strike for some in placed for p in some)  # all at once: fewer, fuller batches
        tracks = [
            self._track(part, some, loop_samples) for (part, _), some in zip(parts, placed, strict=True)
        ]
        self._save_meanwhile()
        return tracks

    def _levelled(self, strike: Strike, note: Note) -> Note:
        """A note as loud as those of the keys beside it."""
        gain = self._levels.gain(strike.program, strike.key, strike.velocity)
        return note._replace(gains=(note.gains[0] * gain, note.gains[1] * gain))

    def _track(self, part: Part, placed: list[Placement], loop_samples: int | None) -> Track:
        """A part's notes with chokes resolved."""
        notes = self._bank.notes(p.strike for p in placed)
        if part.is_percussion:
            keys = {p.strike.key for p in placed}
            classes = {key: self._soundfont.exclusive_class(part.program, key) for key in keys}
            cut = []
            for placement, gap in choke_gaps(placed, classes, loop_samples):
                rings = gap and notes[placement.strike].frames > gap * BLOCK_SAMPLES
                strike = placement.strike._replace(choke_blocks=gap) if rings else placement.strike
                cut.append(Placement(placement.start_sample, strike))
            placed, notes = cut, self._bank.notes(p.strike for p in cut)
        if not part.is_percussion:
            notes = {strike: self._levelled(strike, note) for strike, note in notes.items()}
        sounding = [(start, notes[strike]) for start, strike in placed]
        comes_again = part.is_percussion and self.drums_come_again
        return Track(part.mix, sounding, tuple(placed), comes_again)
