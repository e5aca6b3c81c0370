"""The review: what many repetitions of one cell say, as functions over one table of tries.

**To call.** ``gather`` makes the ``table``, ``packed`` keeps it; ``answers``:
``make_review`` gives every answer at once; ``compare``: ``compare`` sets two ways of playing
against each other; ``sentence``: the answers in words.

**Theory.** A *try* is a complete or broken-off repetition; it is clean or not, at a tempo that was
played in its take. The chance of a clean one is a form that falls with tempo, with a lapse, perhaps
with a step or a dip (``forms``); nothing chooses between forms, each counts as far as it makes the
counts likely. Each take has a luck of its own in log odds. Days move the whole form along the
tempo (``course``), and what is told is where it stands on the last day: *secure* where nine in ten
are clean, *breaks* where one half is (``limits``).

What goes first is the note or string that fails most below the break, and is told only where it
beats its runner-up in nine of ten draws (``first_to_go``). A change of movement is one shift of a
slot's attack or timing, or of a string's noise, at one tempo, with one allowance for false alarms
over all that was watched (``changes``). An awkward range is told, or suspected with what would
settle it (``valleys``).

**Assumptions.** Nothing takes it that faster is worse. Neighbouring repetitions share their fate,
so what is drawn again is a whole take. A tempo that was not tried is never extrapolated.

**Example.** Of 126 repetitions 124 were clean at the slowest tempo: the true share lies between 94
and 100 in a hundred, so the cell is secure there, whatever is fitted; of five out of five it may be
57.

>>> from livecheck.measures.stats import wilson
>>> [[round(100 * end) for end in wilson(hits, of)] for hits, of in ((124, 126), (5, 5))]
[[94, 100], [57, 100]]

**Sources.** Rows S-01 to S-20 in sources.md; E. B. Wilson 1927 (S-12); how right it is stands in
accuracy.md.
"""
