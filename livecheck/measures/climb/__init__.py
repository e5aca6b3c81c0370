"""Which tempo the next block of a climb has: what is believed of the player, and the rules."""
