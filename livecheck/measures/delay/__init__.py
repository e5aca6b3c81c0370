"""The conversion delay: what a converter adds to each note, told from playing.

**To call.** ``estimate``: ``against_click``, ``from_pulse``, ``from_practice`` give a
``DelayEstimate``; ``check``: ``off_by``, ``noticeable`` hold it against a rig; ``advice``:
``advise_delay`` says whether ordinary practice gives reason to change one.

**Theory.** A pitch-to-MIDI converter must see one or two vibrations before it knows a pitch, so a
note of a low string arrives later than one of a high string:

    late(string, pitch) = fixed + periods × period(pitch) + the string's own constant

The player is late by habits of his own: one for each string, for the direction of a crossing, for
single crossings, for open strings, for the first note after a shift; and his clock wanders. In the
notes of one fret a string's habit and its constant look alike; at other frets the delay follows the
period and the habit does not, so frets far apart tell them apart.

``pulse`` puts strokes into their places on an even grid (or beside a click), ``timekeeper`` makes
their errors independent by a model of the player's clock, ``lateness`` lists what a note may be
late by, and ``model_average`` weighs some hundred sets of assumptions by how well each foretells
the notes. An interval holds the doubt between them.

**Assumptions.** The habits are normal about nought with the spreads said in ``lateness``; what is
common to all strings cannot be told from the player's lead or lag, and is told apart
(``common_ms``). Nothing is extrapolated to strings that were not heard.

**Example.** With 4 ms and 1.6 periods the open low E (82.41 Hz, 12.13 ms a period) arrives 23.4 ms
late and the open high E (329.63 Hz, 3.03 ms) 8.9: an even line across them looks like a gallop of
14.6 ms, twice what can be heard.

>>> from livecheck.core.rig import Delay
>>> late_s = Delay(fixed_ms=4.0, periods=1.6).seconds
>>> [round(1000 * late_s(string, pitch), 1) for string, pitch in ((6, 40), (1, 64))]
[23.4, 8.9]

**Sources.** C-01 to C-05 (what converters do), E-01 (what can be heard), E-12, E-13 (the clock) in
sources.md; figures in accuracy.md.
"""
