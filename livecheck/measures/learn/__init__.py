"""A cell from what was played: its period, its beginning, its lengths and rests."""
