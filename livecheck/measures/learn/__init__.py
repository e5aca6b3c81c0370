"""A cell from what was played: its period, its beginning, its lengths and rests.

**To call.** ``answer``: ``learn`` and what it gives back; ``sounds``: what was heard, cleaned of
the converter's slips.

**Theory.** Every stretch of what was heard is tried as the figure (``search``). What a figure says
of the whole is a story with a price in nats, as the matcher's: each slot answered, missed or played
wrong, each sound that belongs to none, each pause and new start (``loops``), and what the figure
costs to describe (``rhythm``): a note more must be worth its place. The price of the best figure
against all others is how sure it is.

**Assumptions.** The figure was meant to be the same each time, three times or more. The unit of a
grid cannot be heard: lengths have no common factor. A figure made of two equal halves is the half.
Strokes are not heard at all here and not guessed.

**Example.** Lengths of two, four and two steps cannot be told from one, two and one.

>>> from livecheck.measures.learn.rhythm import lowest
>>> lowest([2, 4, 2])
(1, 2, 1)

**Sources.** Description length: J. Rissanen, Automatica 14 (1978) 465-471; the prices have no
source but those named at them.
"""
