"""Music from files of others: Standard MIDI Files. Only here is a format of files read."""
