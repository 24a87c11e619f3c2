"""Charts from files of others, with their melody: ABC, MusicXML, chords over lyrics, MIDI markers."""

from genex.readers.charts.foreign_chart import ForeignChart
from genex.readers.charts.kinds import read_chart
from genex.readers.charts.written import recipe_text

__all__ = ["ForeignChart", "read_chart", "recipe_text"]
