"""Unwanted sounds: strings that the hand passes over, what rings on, and the gate.

**To call.** ``crossings``: which strings a cell's crossings pass over; ``passed_over``:
``read_passages``, ``read_quiet`` say of each passage what was heard; ``ring_over``: ``ring_overs``;
``gates``: ``advise_gate``.

**Theory.** A *crossing* is the way from one slot to the next on another string. Each string that
lies between is silent, brushed (soft and short), sounds full, or is cut off (it rang, and the hand
stopped it). Two questions are answered from the whole sitting, since converters differ:

- *brushed or full* (``touched``): softness and length in clusters learned from the sitting's own
  sounds, in units of the player's own scatter;
- *cut off or ended by itself* (``cut_off``): a note left behind is let go, dies, is stopped or is
  struck again, and these ends compete; how notes end is learned from all that were left, also
  those that no hand passed. An end within a crossing is a cut as far as such ends are more
  frequent there.

**Assumptions.** What lies under the rig's gate is the converter's and counts as silence. A note
may be stopped in one crossing only. A string's end says nothing where the converter sends note-offs
as late as the next crossing; then it *cannot be told*, which stands in no share.

**Example.** From string 2 to string 5 and back: strings 3 and 4 lie in the way, both times.

>>> from livecheck.core.cell import make_cell
>>> from livecheck.measures.noise.crossings import crossings
>>> [sorted(one.over) for one in crossings(make_cell("skip", [(2, 10), (5, 12)]))]
[[3, 4], [3, 4]]

**Sources.** C-13, C-17 in sources.md (ghosts; the end of a note is where tracking gave up).
"""
