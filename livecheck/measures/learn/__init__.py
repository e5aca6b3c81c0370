"""A cell from what was played: its period, its beginning, its lengths and rests.

**To call.** ``answer.learn``: records in, the cell and how sure it is out. ``sounds``: notes
without the converter's slips; ``loops``: what figures explain; ``rhythm``: whole steps; ``search``:
which figures are tried and how they are weighed.

**Theory.** Every stretch of what was heard is tried as the figure that comes back. A figure
explains the rest by the likeliest story (Viterbi over the last slot answered): slots answered,
missed or played wrong, sounds that belong to none, stops, new starts, and intervals that differ
from the written ones by a share that the player decides. What a figure costs (nats) is that story
and its own description: slot by slot, or as a copy of itself some slots before with changes, so
that two equal halves are one half, and halves that differ in one note are no slip. Every small
change to the best figures is tried too (another note or length, a slot more or less, another
beginning); the weight of the best among all is how sure it is.

**Assumptions.** Play begins with the figure's first slot and mostly ends with its last; lengths are
whole steps without a common factor, most of them alike; a player's own lengths differ from the
written ones by some 5 %, in every repetition alike. Two repetitions are never sure.

**Example.** Three notes three times, the last one twice as long:

>>> from livecheck.core.events import Midi
>>> from livecheck.measures.learn.answer import learn
>>> played = [(1.0 + rep + at / 4, key) for rep in range(3) for at, key in enumerate((69, 71, 72))]
>>> told = learn([Midi(t_s, bytes((0x91, key, 80))) for t_s, key in played])
>>> [(slot.string, slot.fret, slot.length) for slot in told.cell.slots], told.repetitions
([(2, 10, 1), (2, 12, 1), (2, 13, 2)], 3)

**Sources.** None: prices and lengths are common practice; how right it is stands in accuracy.md.
"""
