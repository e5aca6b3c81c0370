"""livecheck: what happened to every note of a looped guitar figure."""

__version__ = "0.1.0"
