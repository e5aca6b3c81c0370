"""Which way a simulated hand's pick goes, and how that sounds."""

from __future__ import annotations

import statistics
from random import Random

import pytest

from livecheck.core.cell import make_cell
from livecheck.player.guitarist import Performance, play
from livecheck.player.habits import Conversion, Habits
from livecheck.player.takes import perform

ODD = make_cell("odd", [(2, 13), (2, 10), (3, 12), (3, 10), (3, 9)])


def begins(performance: Performance) -> list[str]:
    """The first stroke of each repetition."""
    return [performance.strokes[this.rep, 1] for this in performance.passes]


@pytest.mark.parametrize(
    ("habits", "first_four"),
    [
        (Habits(), ["down", "up", "down", "up"]),
        (Habits(seam="repeat"), ["down", "down", "down", "down"]),
        (Habits(restart_turned=1.0), ["up", "down", "up", "down"]),
        (Habits(hammered_slot=4, hammered=1.0), ["down", "down", "down", "down"]),
        (Habits(seam="repeat", seam_other=1.0), ["down", "up", "down", "up"]),
    ],
    ids=["plan", "repeat", "begun the other way", "one note hammered", "the other seam"],
)
def test_repetitions_begin_as_the_hand_goes_on(habits: Habits, first_four: list[str]) -> None:
    """An odd cell turns round by itself, and not where a stroke is taken up or a note hammered."""
    assert begins(play(ODD, habits, Random(1)))[:4] == first_four


def test_each_new_beginning_is_as_planned() -> None:
    """After a pause play begins with the plan's first stroke, whatever came before."""
    played = play(ODD, Habits(reps=60, wait=0.3), Random(2))
    afresh = [first for first, this in zip(begins(played), played.passes) if this.mended]
    assert len(afresh) > 8 and set(afresh) == {"down"}


def test_up_strokes_are_softer_and_later_by_as_much_as_asked() -> None:
    """A quarter softer and 6 ms later on the mean, from what was sounded."""
    habits = Habits(reps=400, up_softer=0.25, up_late_ms=6.0, gallop_pct=0.0, walk_pct=0.0)
    played = play(ODD, habits, Random(3))
    loud: dict[str, list[float]] = {"down": [], "up": []}
    late: dict[str, list[float]] = {"down": [], "up": []}
    planned = {(this.rep, slot): t for this in played.passes for slot, t in this.times_s.items()}
    for sound in played.sounds:
        loud[sound.stroke].append(sound.velocity)
        late[sound.stroke].append(1000 * (sound.t_s - planned[sound.label[:2]]))
    softer = 1 - statistics.fmean(loud["up"]) / statistics.fmean(loud["down"])
    assert softer == pytest.approx(0.25, abs=0.02)
    later = statistics.fmean(late["up"]) - statistics.fmean(late["down"])
    assert later == pytest.approx(6.0, abs=0.5)


def test_the_truth_of_a_take_has_each_notes_stroke() -> None:
    """As played, the hammered note too; what the converter made by itself has none."""
    habits = Habits(hammered_slot=4, hammered=1.0)
    take = perform(ODD, habits, Conversion(ghost=0.2), Random(4))
    strokes = {
        (note.label.slot, note.stroke) for note in take.truth.notes if note.label.slot is not None
    }
    assert strokes == {(1, "down"), (2, "up"), (3, "down"), (4, "hammer"), (5, "up")}
    assert {note.stroke for note in take.truth.notes if note.label.slot is None} == {None}
