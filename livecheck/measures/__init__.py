"""Figures over repetitions: pure functions, defined once in measures.md's terms."""
