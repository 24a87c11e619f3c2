"""Score to Sound: loops, takes and stems from one soundfont."""

from __future__ import annotations

from pathlib import Path
from threading import Thread

from genex.audio.held import Note
from genex.audio.key_levels import KeyLevels
from genex.audio.laid import Laid, laid_loop, laid_take
from genex.audio.mix import Shelf, Track, mix_down
from genex.audio.notes import NoteBank
from genex.audio.one_thread import one_thread
from genex.audio.proven import proven_traits
from genex.audio.room import tail_samples
from genex.audio.sf2 import content_digest
from genex.audio.sound import BLOCK_SAMPLES, DEFAULT_RATE_HZ, Sound, audible_frames
from genex.audio.store import NoteStore
from genex.audio.synth import Soundfont
from genex.audio.timing import Placement, Strike, choke_gaps
from genex.score import Part, Score

_SHELF_BYTES = 32 << 20
_QUIET = 3e-5  # -90 dBFS: a take ends where it stays below


class Renderer:
    """Renders scores with one soundfont at one sample rate. A context manager; not thread-safe.

    Every distinct note is synthesised once and kept for later scores, up to a limit in memory;
    with ``cache_dir``, held notes are kept on disk too, under the soundfont's digest, which
    ``digest`` tells if it is known already. ``drums_come_again`` may be set where what is to come
    has the same drums, as the loop in other keys has, or the loop without its line.
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
        return self._loop(laid_loop(score, self.rate_hz)).repeated(passes)

    @one_thread()
    def take(self, score: Score) -> Sound:
        """The score once, with its lead-in before the first bar and its tails ringing out."""
        laid = laid_take(score, self.rate_hz)
        tracks = self._tracks(laid)
        notes_end = max((at + note.frames for track in tracks for at, note in track.notes), default=0)
        frames = max(laid.bars_end, notes_end) + tail_samples(self.rate_hz)
        sound = mix_down(tracks, frames, self.rate_hz, wrap=False, shelf=self._shelf)
        end = max(laid.bars_end, audible_frames(sound.planes, _QUIET))
        return Sound.of_planes(sound.planes[:, :end], self.rate_hz)

    @one_thread()
    def stem(self, score: Score, name: str, passes: int = 1) -> Sound:
        """A part of the loop alone with its share of the room, of the loop's length.

        The sum of all is ``loop(score, passes)`` up to the rounding of float numbers.
        """
        return self._loop(laid_loop(score, self.rate_hz, [score.part(name)])).repeated(passes)

    def _loop(self, laid: Laid) -> Sound:
        tracks = self._tracks(laid)
        return mix_down(tracks, laid.bars_end, self.rate_hz, wrap=True, shelf=self._shelf)

    def _save_meanwhile(self) -> None:
        """Save new notes while the mix goes on: checksums and writing need no Python lock."""
        unsaved = self._bank.take_unsaved()
        if self._store and unsaved:
            if self._saving:
                self._saving.join()
            self._saving = Thread(target=self._store.write, args=(unsaved,), name="genex-notes")
            self._saving.start()

    def _tracks(self, laid: Laid) -> list[Track]:
        self._bank.forget()
        # All at once: fewer, fuller batches.
        self._bank.notes(placement.strike for one in laid.parts for placement in one.placed)
        loop_samples = laid.bars_end if laid.loops else None
        tracks = [self._track(one.part, one.placed, loop_samples) for one in laid.parts]
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
