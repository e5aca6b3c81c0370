"""Climbing to a click: which tempo the next block has, and what was found at the end.

**To call.** ``rules``: ``next_block`` and ``answered``; ``belief``: ``Belief``, what is believed of
a player after some blocks; ``answer``: ``limits``, ``advice``; ``up_down``: the staircase;
``parts``: ``tell_part`` holds a part of a cell alone against itself inside.

**Theory.** A block is so many repetitions at one tempo. *steps* goes up after so many in a row that
were good enough and down after one that was not, and so settles where p^k = 1/2. *search* keeps a
distribution over breaks, widths, lapses and awkward ranges (``belief``) and takes the tempo whose
answer is expected to tell most, also beyond a range that went badly.

**Assumptions.** Repetitions of a block share a luck. Every rule begins below what is known to be
secure, raises by degrees, and puts an easy block in after two that went badly.

**Example.** Two right in a row go up, one wrong goes down: of a player who is right in 71 of 100
(p^2 = 1/2) as many moves go up as down.

>>> from livecheck.measures.climb.up_down import moves
>>> moves([True, True, False, True, False, True, True], 2)
[0, 1, -1, 0, -1, 0, 1]

**Sources.** S-16 to S-18 (transformed up-down rules, H. Levitt 1971), S-19 in sources.md; the
belief's own stand in ``belief``; figures in accuracy.md.
"""
