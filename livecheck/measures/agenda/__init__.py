"""What today: where each cell stands now, and which block would answer most.

**To call.** ``now``: ``present`` carries a cell's last state to a day on which it was not played;
``day``: ``plan_day`` chooses the blocks of a day.

**Theory.** The tempo at which a cell breaks is a state that moves: practice raises it a little,
days off let it sink by a multiple of the logarithm of their number, it wanders, and each day has a
luck of its own (now and then a bad one). Each day's repetitions say where it lay that day. A filter
on a grid of tempos goes through the days with every combination of sizes that are likely; each
combination counts as far as it foretold the days (``now``). So learning and forgetting are read
from the player's own days, and where those are few they stay as unknown as they were.

A block is worth what it would take from the doubt about where a cell breaks. A repetition at the
break has at most the information 1 / (4 width²), less where the break may lie elsewhere and what
the luck of a stretch hides; and of today's break nothing tells more about the cell's own than the
luck of a day allows, so that a second day is worth more than a long first one (``blocks``). Blocks
are taken by doubt removed in a minute, until the time is full or nothing is in doubt (``day``).
Where a cell breaks is one question; ``questions`` has the others that its review left.

**Assumptions.** A cell is *known* where its break is known to four in a hundred. Nothing scores the
player: only doubt counts. The order of play is by ease, so that the hand is warm for the hardest.

**Example.** A cell breaks at 150, its own state known to ± 8 %; the fall is 5 % wide, a day's luck
2 %. Thirty repetitions leave it known to ± 4.8 %, ten times as many to ± 3.7 %.

>>> from livecheck.measures.agenda.blocks import doubt_after
>>> from livecheck.measures.agenda.now import Range, State
>>> own = Range(150.0, 150.0 / 1.08, 150.0 * 1.08)
>>> cell = State(own, own, 0.05, 0.02, 0.0, None, None)
>>> [round(196 * doubt_after(cell, reps), 1) for reps in (30, 300)]
[4.8, 3.7]

**Sources.** Forgetting in the logarithm of time: H. Ebbinghaus 1885, as in J. T. Wixted and
E. B. Ebbesen, Psychological Science 2 (1991) 409-415 (from memory; the form, not its size). Grid
filter: L. R. Rabiner, Proc. IEEE 77 (1989) 257-286. Information of a binary answer at one half:
A. B. Watson and D. G. Pelli, Perception & Psychophysics 33 (1983) 113-120 (from memory).
"""
