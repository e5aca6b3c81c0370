"""Early and late in their places, rings, and the panels' room."""

from __future__ import annotations

from console_sample import CELL, filled, repetition

from livecheck.console.layout import plan
from livecheck.console.lines import plain_text
from livecheck.console.model import Model
from livecheck.console.palette import FULL, PLAIN
from livecheck.console.places import middle, placed, reach, under
from livecheck.console.table import rep_lines
from livecheck.console.view import screen_lines
from livecheck.core.cell import make_cell
from livecheck.core.events import Midi, RepDone, UseCells, UseRig
from livecheck.core.rig import Rig
from livecheck.measures.noise.ring_over import rings_on
from livecheck.measures.profile import noticed
from livecheck.measures.sound import RepSound
from livecheck.session import Session

DEVIATIONS_MS = (0, -7.0, 5.9, 13.0, -40.0, 6.5)


def row(width: int, in_place: bool = True, sound: RepSound | None = None, signs=FULL) -> str:
    """The row of a repetition with DEVIATIONS_MS on a window of a width."""
    rep = repetition(7, deviations_ms=DEVIATIONS_MS)
    layout = plan(width, 6, 6)
    text = plain_text(rep_lines(rep, layout, signs, sound, in_place))
    return text[8 : 8 + 6 * layout.slot_width].ljust(6 * layout.slot_width)


def test_a_sign_stands_where_its_note_was_early_or_late() -> None:
    """By whole times what is just noticed (6 ms here), as far as its column reaches."""
    assert noticed(repetition(7, deviations_ms=DEVIATIONS_MS)) == (0, -1, 0, 2, -6, 1)
    wide = plan(80, 6, 6).slot_width
    assert wide == 3
    assert row(80) == " ■ ■   ■   ■■    ■".ljust(18)
    assert row(80, in_place=False) == " ■  ■  ■  ■  ■  ■ "
    wider = plan(240, 6, 6).slot_width
    assert [len(part) for part in row(240).split("■")[:-1]] == [
        middle(wider),
        wider - 1 - 1,
        wider - 1 + 1,
        wider - 1 + 2,
        wider - 1 - 2 - reach(wider),
        wider - 1 + reach(wider) + 1,
    ]


def test_without_a_tempo_nothing_is_early_or_late() -> None:
    """A repetition with a pause has no even line to be measured by."""
    assert noticed(repetition(7, bpm=None, deviations_ms=DEVIATIONS_MS)) == (0,) * 6


def test_a_ring_fills_what_lies_between_two_notes() -> None:
    """Whatever their places are."""
    rep = repetition(7)
    (line,) = rep_lines(rep, plan(80, 6, 6), FULL, RepSound(rings=(2, 4)))
    assert plain_text([line])[8:26] == " ■  ■──■  ■──■  ■ "
    assert row(80, True, RepSound(rings=(2,)), PLAIN).startswith(" # #---#")
    signs = [("a", None), ("b", None), ("c", None)]
    line = placed(signs, 3, FULL, [1, -1, 0], [0])  # type: ignore[arg-type]
    assert plain_text([line]) == "  ab   c"


def test_figures_end_under_their_signs() -> None:
    """The last digit below the sign, whatever the width of the column."""
    for width in (2, 3, 4, 5, 7):
        for text in ("7", "-3"):
            assert under(text, width).rstrip() == text.rjust(middle(width) + 1)
            assert len(under(text, width)) == width


def ringing(bpm: float, on_s: float, reps: int = 14) -> Session:
    """Two strings in turn; in the last repetition the first note ends so long after the second
    began, else 20 ms after."""
    cell = make_cell("two strings", [(2, 10), (3, 12), (2, 12), (4, 10)], tempo_bpm=bpm)
    session, step_s = Session(cell), 60.0 / bpm / cell.grid
    messages = []
    for rep in range(reps + 1):  # one more, so that the one before is over
        for slot in cell.slots:
            at = 1.0 + (rep * cell.steps + slot.start) * step_s
            late = on_s if (rep, slot.number) == (reps - 1, 1) else 0.02
            channel = slot.string - 1
            messages.append((at, bytes([0x90 + channel, slot.pitch, 80])))
            messages.append((at + step_s + late, bytes([0x80 + channel, slot.pitch, 0])))
    session.feed(UseRig(0.0, Rig()))
    session.feed(UseCells(0.0, (cell,)))
    found = Model()
    for t_s, data in sorted(messages):
        for outcome in session.feed(Midi(t_s, data)):
            found.tell(outcome)
    assert found.reps >= reps
    told = [item for item in found.log if hasattr(item, "slots")]
    session.told = told  # type: ignore[attr-defined]
    return session


def test_a_note_that_rings_into_the_next_one_is_seen_where_it_matters() -> None:
    """Half of the next note and 60 ms; usual lateness of note-offs is nothing."""
    for on_s, expected in ((0.02, ()), (0.06, ()), (0.14, (1,))):
        reps = ringing(100.0, on_s).told  # type: ignore[attr-defined]
        assert rings_on(reps[:14]) == expected, on_s
        assert rings_on(reps[:13]) == ()


def test_older_repetitions_take_the_room_of_panels_that_have_nothing_to_tell() -> None:
    """Without a panel's figures they begin higher; each stands once, in the log or beside it."""
    quiet = filled([repetition(rep) for rep in range(1, 81)])
    rows = plain_text(screen_lines(quiet, 160, 24, FULL)).splitlines()
    told = [line for line in rows if "earlier repetitions" in line]
    assert len(told) == 1
    beside = [int(line[100:].split()[0]) for line in rows if "■■■■■■" in line]
    first = min(int(line.split()[0]) for line in rows if line[:8].strip().isdigit())
    assert beside == list(range(first - len(beside), first)) and len(beside) >= 12
    leaning = filled([repetition(rep, deviations_ms=[0, 9, 0, 0, 0, 0]) for rep in range(1, 81)])
    fewer = plain_text(screen_lines(leaning, 160, 24, FULL)).splitlines()
    assert 0 < sum("■■■■■■" in line for line in fewer) < len(beside)


def test_lateness_can_be_hidden_while_playing() -> None:
    """The same row with all signs in the middle, and back."""
    model = filled([], CELL)
    model.tell(RepDone(repetition(1, deviations_ms=DEVIATIONS_MS)))
    shown = plain_text(screen_lines(model, 80, 24, FULL))
    version = model.version
    model.place_signs(False)
    assert model.version > version
    hidden = plain_text(screen_lines(model, 80, 24, FULL))
    assert " ■  ■  ■  ■  ■  ■ " in hidden and " ■  ■  ■  ■  ■  ■ " not in shown
    model.place_signs(True)
    assert plain_text(screen_lines(model, 80, 24, FULL)) == shown
