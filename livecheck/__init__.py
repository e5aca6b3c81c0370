"""livecheck: what happened to every note of a cell looped on the guitar."""

__version__ = "0.1.0"
