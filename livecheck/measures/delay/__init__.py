"""The conversion delay: what a converter adds to each note, told from playing."""
