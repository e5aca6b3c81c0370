"""Recording: the process that owns the MIDI input, and the one that puts every message on disk."""
