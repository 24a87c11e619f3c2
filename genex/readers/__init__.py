"""What others made, read: Standard MIDI Files, charts, a logo. Only here is a format of files read."""
