"""Everything that is kept on disk: cells and rigs, the journal, Standard MIDI Files, the practice
folder."""
