"""Files in which others write music down, read into cells and written from them: Standard MIDI
Files, MusicXML, text tablature.

Each reader gives a ``Figure``; ``figure.py`` makes cells of it.
"""
