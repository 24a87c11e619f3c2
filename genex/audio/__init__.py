"""Score to sound: synthesizer, mix, room, loudness and files.

The modules are imported by name (``genex.audio.render`` and so on); none of them imports numpy or
loads libfluidsynth before it is asked to make a sound.
"""
