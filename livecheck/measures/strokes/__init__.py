"""Strokes: how hard each note was struck, whether with the pick, and in which direction.

**To call.** ``attack``: ``read_attacks`` tells picked from hammered; ``direction``:
``read_directions`` and ``strokes_played`` tell down from up.

**Theory, picked or hammered.** The logarithm of a velocity is

    string's level + slot's accent + repetition's loudness − drop (where no pick struck) + scatter

Slots have chances of their own of being played as planned. Levels, accents, chances, drop and
scatter are weighed over all their likely values, from the slot up to the sitting, so that a chance
said of a note holds the doubt about all of them (``velocity_levels``). Told from nine in ten on;
nothing is told of a sitting whose velocities show one level only, or where the converter evens them
out.

**Theory, down or up.** The direction is a hidden state along the picked notes: it turns round with
each, stays where a note was not picked, may be repeated, and begins afresh where play does
(``direction_chain``). What shows it is how much softer and later the strokes of one way come in
this very sitting (``direction_model``), and the plan, which gives the ways their names.

**Assumptions.** Attack is judged within strings: converters weigh them differently. A slot that is
always soft says nothing by itself. Two ways that explain no more than one are not told.

**Example.** A string that usually gives 100 and a repetition that is a tenth louder: a note of 66
has the attack 66 / 100 / 1.1 = 0.6.

>>> round(66 / 100 / 1.1, 2)
0.6

**Sources.** .docs/measures.md (attack, picked or hammered, played stroke); no published model of
picked and hammered velocities was found, so the levels rest on simulations of two kinds
(accuracy.md).
"""
