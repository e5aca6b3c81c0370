"""Ways of playing that come and go between repetitions, found without being told.

**To call.** ``features``: ``heard`` makes each repetition a row of what was heard; ``find``:
``find_ways`` tells one, two or three ways, with in what they differ and how clean each is.

**Theory.** A repetition is a row: lateness of each note off the repetition's own line, loudness,
rings, strings touched or cut off, notes that came by a bend, the gap at the seam; what could not be
told is left out (``matrix``). Courses over tempo, sittings, drift and the turn of an odd cell's
picking are common to all ways (``base``). A second way is a few sparse differences that may move
with tempo; which way a repetition was played in is hidden, and kept from one repetition of a take
to the next with a chance of its own (``chain``, ``model``, ``search``).

One way with smooth courses is the rival: more ways are told only where they foretell takes that
were held out better, by more than the error of that over takes (``odds``). How clean the ways are
is set against each other at equal tempo, over draws of who played which (``told``).

**Assumptions.** A plain fault is no way: missed notes say nothing here. A single thing that happens
or not, with a chance that follows the tempo and without runs, is no way either.

**Example.** Two repetitions in a row, the first surely of way 1, the second in doubt: with a chance
of 0.8 to stay, and both ways as frequent, the second is of way 1 in nine of ten.

>>> import numpy as np
>>> from livecheck.measures.ways.chain import Takes, hidden
>>> emit = np.array([[0.0, -50.0], [0.0, 0.0]])
>>> found = hidden(Takes(np.zeros(2, int)), emit, np.full((2, 2), 0.5), 0.8)
>>> round(float(found.way[1, 0]), 3)
0.9

**Sources.** W-01 to W-05 in sources.md; L. R. Rabiner, Proc. IEEE 77 (1989) 257-286; figures, and
what they fall short of, in accuracy.md.
"""
