"""Strokes: how hard each slot was struck, and whether it was picked or hammered."""
