"""The teacher's own lines: ABC, tab, MusicXML and MIDI, typed into a recipe or in a file beside it."""

from genex.readers.lines.sources import read_own_line
from genex.readers.lines.typed_line import TypedLine, TypedNote

__all__ = ["TypedLine", "TypedNote", "read_own_line"]
