"""What playing means: pitches, cells, rigs, notes and their matching. No clock, port, file or
terminal in here."""
