"""What today: where each cell stands now, and which block would answer most.

**To call.** ``now``: ``present`` carries a cell's last state to a day on which it was not played;
``blocks``: ``plan_day`` chooses the blocks of a day.

**Theory.** The tempo at which a cell breaks is a state that moves: practice raises it a little,
days off let it sink by a multiple of the logarithm of their number, it wanders, and each day has a
luck of its own (now and then a bad one). Each day's repetitions say where it lay that day. A filter
on a grid of tempos goes through the days with every combination of sizes that are likely; each
combination counts as far as it foretold the days (``now``). So learning and forgetting are read
from the player's own days, and where those are few they stay as unknown as they were.

A block is worth what it would take from the doubt about where a cell breaks: n repetitions at that
tempo, one half of them clean, have an information of n / 4 in the steepness of the fall, less what
the luck of a take hides. Blocks are taken in the order of doubt removed in a minute, until the time
is full or nothing is in doubt (``blocks``).

**Assumptions.** A cell is *known* where its break is known to four in a hundred. Nothing scores the
player: only doubt counts. The order of play is by ease, so that the hand is warm for the hardest.

**Example.** A cell breaks at 150, known to ± 8 %; the fall is 5 % wide. Sixteen repetitions at 150
leave ± 5.1 %.

>>> from livecheck.measures.agenda.blocks import doubt_left
>>> round(100 * 1.96 * doubt_left(0.08 / 1.96, 0.05, 16), 1)
5.1

**Sources.** Forgetting in the logarithm of time: H. Ebbinghaus 1885, as in J. T. Wixted and
E. B. Ebbesen, Psychological Science 2 (1991) 409-415 (from memory; the form, not its size). Grid
filter: L. R. Rabiner, Proc. IEEE 77 (1989) 257-286. Information of a binary answer at one half:
A. B. Watson and D. G. Pelli, Perception & Psychophysics 33 (1983) 113-120 (from memory).
"""
