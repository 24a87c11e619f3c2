"""Charts from files of others: ABC, MusicXML, chords over lyrics, MIDI markers. Chords, not tunes."""

from genex.readers.charts.foreign_chart import ForeignChart
from genex.readers.charts.kinds import read_chart
from genex.readers.charts.written import recipe_text

__all__ = ["ForeignChart", "read_chart", "recipe_text"]
