"""Score to sound: synthesizer, mix, room, loudness and files.

Importing this package imports numpy: whoever may do without loads it lazily. libfluidsynth is loaded
with the first soundfont, libsndfile with the first file that it writes.
"""

from genex.audio.encode import FORMATS, AudioFormat, Written, rewrite_audio, write_audio
from genex.audio.laid import laid_loop, laid_take
from genex.audio.loudness import integrated_lufs, true_peak_dbtp
from genex.audio.markers import (
    Marker,
    loop_chapters,
    loop_markers,
    take_chapters,
    take_markers,
)
from genex.audio.mastering import CEILING_DBTP, TARGET_LUFS, Measurement, levelling_for, master
from genex.audio.render import Renderer
from genex.audio.sf2 import content_digest
from genex.audio.sound import DEFAULT_RATE_HZ, Sound, in_turn
from genex.audio.synth import Soundfont
from genex.audio.tape import LONG_FRAMES, TapeError, long_sounds_in

__all__ = [
    "CEILING_DBTP",
    "DEFAULT_RATE_HZ",
    "FORMATS",
    "LONG_FRAMES",
    "TARGET_LUFS",
    "AudioFormat",
    "Marker",
    "Measurement",
    "Renderer",
    "Sound",
    "Soundfont",
    "TapeError",
    "Written",
    "content_digest",
    "in_turn",
    "integrated_lufs",
    "laid_loop",
    "laid_take",
    "levelling_for",
    "long_sounds_in",
    "loop_chapters",
    "loop_markers",
    "master",
    "rewrite_audio",
    "take_chapters",
    "take_markers",
    "true_peak_dbtp",
    "write_audio",
]
