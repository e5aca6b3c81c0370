"""The screen as a pure view: sizes fixed, no colour needed, no terminal."""

from __future__ import annotations

from console_sample import CELL, filled, long_cell, random_reps, repetition
from hand import Hand
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from livecheck.console.big import blocks, half_blocks
from livecheck.console.lines import plain_text
from livecheck.console.model import Model
from livecheck.console.palette import FULL, PLAIN, signs_for
from livecheck.console.picture import picture
from livecheck.console.view import screen_lines
from livecheck.core.cell import make_cell
from livecheck.core.events import ARTEFACT, HIT, WRONG, Gap, Link, Mark, RepDone, Stop, UseCells
from livecheck.session import Session


def screen(model: Model, width: int = 80, height: int = 24, far: bool = False, signs=FULL) -> str:
    return plain_text(screen_lines(model, width, height, signs, far))


def line_with(model: Model, start: str, **size: int) -> str:
    """The one line that begins so."""
    found = [line for line in screen(model, **size).splitlines() if line.strip().startswith(start)]
    assert len(found) == 1, found
    return found[0]


def test_a_hole_shows_where_it_was() -> None:
    """A missed slot stands in its own column, between its neighbours."""
    model = filled([repetition(7, "hit hit missed hit hit hit")])
    assert "7  ■  ■  _  ■  ■  ■" in line_with(model, "7 ")


def test_the_first_screen_says_what_to_do() -> None:
    """With one cell, several to recognise, or none; of several it never asks to choose one."""
    one, several, none = Model(), Model(), Model()
    one.hear(UseCells(0.0, (CELL,)))
    several.hear(UseCells(0.0, (CELL, long_cell(4), long_cell(5))))
    assert "Play the cell round and round" in screen(one)
    assert "Play one of the 3 cells" in screen(several) and "Choose" not in screen(several)
    assert "Choose a cell" in screen(none)


def test_wrong_missed_and_pending_have_shapes_of_their_own() -> None:
    """No two verdicts share a sign, in neither set."""
    for signs in (FULL, PLAIN):
        assert len({signs.hit, signs.wrong, signs.missed, signs.pending}) == 4


def test_the_repetition_under_way_shows_what_is_pending() -> None:
    """Slots told so far, then pending ones, on the line below the log."""
    model = filled([repetition(1)])
    model.current = (2, (HIT, WRONG, None, None, None, None))
    assert "2  ■  ≠  ·  ·  ·  ·   now" in line_with(model, "2 ")


def test_a_broken_off_repetition_ends_where_it_ended() -> None:
    """Slots that were never reached are blank, not missed."""
    model = filled([repetition(3, "hit hit hit", complete=False, bpm=None)])
    line = line_with(model, "3 ")
    assert "3  ■  ■  ■            ·" in line and "broken off" in line


def test_noise_stands_under_its_string() -> None:
    """The count of unwanted sounds is in the column of the string that made them."""
    lines = screen(filled([repetition(5, strings=[4, 4])])).splitlines()
    heads = next(line for line in lines if "1 2 3 4 5 6" in line)
    row = next(line for line in lines if line.strip().startswith("5 "))
    assert row[heads.index("1 2 3 4 5 6") + 6] == "2"
    assert row.rstrip().endswith("unwanted sound")


def test_artefacts_are_not_shown_as_the_players_noise() -> None:
    """The converter's own faults are counted at the foot of the screen, not in a string's
    column."""
    text = screen(filled([repetition(5, strings=[4], kind=ARTEFACT)]), 140, 40)
    assert "1 converter fault" in text
    assert "· · · · · ·" in next(line for line in text.splitlines() if line.startswith("      5 "))


def test_the_newest_repetition_is_the_lowest() -> None:
    """The log grows downwards and loses its oldest lines first."""
    text = screen(filled(repetition(rep) for rep in range(1, 51)))
    numbers = [
        int(line.split()[0])
        for line in text.splitlines()
        if "■  ■" in line and line.split()[0].isdigit()
    ]
    assert numbers == list(range(51 - len(numbers), 51)) and len(numbers) >= 8


def test_heads_name_the_cell_its_variant_strings_and_strokes() -> None:
    """Cell, variant in force, string row and stroke row are on the screen."""
    cell = CELL.with_variant("hammered")
    text = screen(filled([repetition(1, cell=cell)], cell))
    assert text.startswith(" six across a skip, ham")
    assert " string  2  2  3  3  5  5" in text
    assert " stroke  ⊓  ∨  ⊓  ∨  h  p" in text


def test_the_stroke_row_turns_with_the_repetition() -> None:
    """An odd number of picked notes: in the second repetition since play began the row is
    turned."""
    odd = make_cell("odd", [(1, 5), (1, 7), (1, 8)])
    model = filled([repetition(1, "hit hit hit", cell=odd)], odd)
    assert line_with(model, "stroke").split()[1:4] == ["⊓", "∨", "⊓"]
    session = Session(odd)
    for record in Hand(odd).reps(1).reps(1, last=2).records():
        session.feed(record)
    model.look(session)
    assert line_with(model, "stroke").split()[1:4] == ["∨", "⊓", "∨"]


def test_audible_unevenness_is_marked_by_a_sign() -> None:
    """The sign follows the figure only where it can be heard."""
    text = screen(filled([repetition(1, cv_pct=6.4, audible=True), repetition(2, cv_pct=6.4)]))
    assert text.count("6.4~") == 1 and text.count("6.4 ") == 1


def test_a_slot_that_leans_is_told() -> None:
    """After enough repetitions a slot whose mean is beyond the just noticeable figure is named."""
    reps = [
        repetition(rep, deviations_ms=[0, 0, 11.0 + rep % 2, 0, 0, -9.0]) for rep in range(1, 9)
    ]
    text = screen(filled(reps))
    assert "audibly early: 6; audibly late: 3" in text
    assert screen(filled(reps[:3])).count("too few yet") == 1


def test_the_ruler_puts_early_left_and_late_right() -> None:
    """On a wide screen each slot's mean stands on its side of the upright."""
    reps = [repetition(rep, deviations_ms=[-12, 0, 12, 0, 0, 0]) for rep in range(1, 9)]
    rows = {
        line.split("  ")[-1]: line
        for line in screen(filled(reps), 140, 40).splitlines()
        if "◆" in line
    }
    lines = [line for line in rows.values()]
    early = next(line for line in lines if line.endswith("early"))
    late = next(line for line in lines if line.endswith("late"))
    assert early.index("◆") < early.rindex("│") and late.index("◆") > late.rindex("│")


def test_a_lost_link_cannot_be_overlooked() -> None:
    """The near view says it twice, the far view in its largest letters."""
    model = filled([repetition(1)])
    model.hear(Link(3.0, False, "the port is gone"))
    assert "PORT LOST" in screen(model) and "port is gone" in screen(model)
    assert "\n".join(half_blocks("NO PORT")).splitlines()[1].strip() in screen(model)
    rows = [line.strip() for line in screen(model, far=True).splitlines()]
    large = [line.strip() for line in blocks("NO PORT", 1)]
    at = rows.index(large[0])
    assert rows[at : at + 5] == large
    assert "port is gone" in screen(model, far=True)


def test_a_port_without_room_is_told_by_its_name_alone() -> None:
    """Rather than half a name; with room the words stand before it."""
    model = filled([repetition(1, "hit missed wrong missed hit")])
    model.hear(Link(3.0, True, "built-in player"))
    assert line_with(model, "built-in player", width=80).startswith(" built-in player   ")
    assert "listening to built-in player" in screen(model, width=120)


def test_what_is_not_saved_is_told() -> None:
    """A disk in trouble comes before everything else; what was lost stays told afterwards."""
    model = filled([repetition(1)])
    model.say_unsaved("no space left on the disk")
    assert (
        "NOT SAVED: no space left on the disk" in screen(model)
        and "not saved" in screen(model).splitlines()[-1]
    )
    model.say_unsaved(None)
    model.hear(Gap(4.0, 12, "disk full"))
    assert "12 messages could not be saved" in screen(model)


def test_marks_and_takes_stand_between_the_repetitions() -> None:
    """The log shows in order what happened."""
    model = filled([repetition(1)])
    model.hear(Mark(1.3, "thumb lower"))
    model.tell(RepDone(repetition(2, take=2)))
    lines = [line.strip() for line in screen(model).splitlines()]
    starts = ("1  ■", "─ mark: thumb lower", "─ take 2", "2  ■")
    order = [
        next(row for row, line in enumerate(lines) if line.startswith(start)) for start in starts
    ]
    assert order == sorted(order)


def test_before_the_first_repetition_a_word_of_caution() -> None:
    """It stands where practice starts, and goes when practice is under way or an old session is
    shown."""
    assert "Stop at pain" in screen(filled([]))
    assert "Stop at pain" not in screen(filled([repetition(1)]))
    again = Model(practising=False)
    again.hear(UseCells(0.0, (CELL,)))
    assert "Stop at pain" not in screen(again)


def test_without_a_cell_it_only_records() -> None:
    """No cell is a way to use it, not an error."""
    model = Model()
    model.hear(UseCells(0.0, ()))
    assert "only recording" in screen(model)
    assert "listening for one of 2 cells" in screen(_choosing())


def _choosing() -> Model:
    model = Model()
    model.hear(UseCells(0.0, (CELL, long_cell(4))))
    return model


def test_control_characters_never_reach_the_terminal() -> None:
    """Names from files and ports are shown without anything that could steer the terminal."""
    cell = make_cell("bad \x1b[2J\nname", [(2, 10), (3, 12)])
    model = filled([], cell)
    model.hear(Link(1.0, True, "port\x1b]0;x\x07"))
    model.hear(Mark(1.0, "\x9b31m mark\r"))
    model.hear(Stop(2.0, "\x07bell"))
    assert all(
        char.isprintable()
        for line in screen_lines(model, 100, 30, FULL)
        for part in line
        for char in part.text
    )


def test_wide_characters_keep_the_frame_in_shape() -> None:
    """A name in wide characters is measured in columns, not letters."""
    model = filled([], make_cell("六連符" * 20, [(2, 10), (3, 12)]))
    assert {
        sum(cell_len(part.text) for part in line) for line in screen_lines(model, 80, 24, FULL)
    } == {80}


@settings(max_examples=150, deadline=None)
@given(
    st.integers(1, 200), st.integers(1, 70), st.sampled_from([0, 2, 5, 16, 33, 64]), st.booleans(),
    st.integers(0, 30), st.sampled_from([FULL, PLAIN]),
)  # fmt: skip
def test_no_size_makes_it_fail(width, height, slots, far, reps, signs) -> None:
    """Any window gives exactly its own number of lines and columns, near and far, with and without
    a cell."""
    cell = long_cell(slots) if slots else None
    model = Model() if cell is None else filled(random_reps(cell, reps, seed=reps), cell)
    lines = screen_lines(model, width, height, signs, far)
    assert len(lines) == height
    assert {sum(cell_len(part.text) for part in line) for line in lines} == {width}


def test_a_very_long_cell_is_wrapped() -> None:
    """Where a repetition does not fit on a line it takes as many as it needs; no slot is lost."""
    cell = long_cell(64)
    text = screen(filled([repetition(1, "hit " * 63 + "missed", cell=cell)], cell), 60, 30)
    assert text.count("■") - 1 == 63  # one stands in the legend
    assert text.count("_") - 1 == 1


def test_plain_signs_are_ascii() -> None:
    """Where the encoding has no signs of ours, nothing but ASCII is drawn."""
    model = filled(random_reps(CELL, 12, seed=3))
    model.hear(Mark(1.0, "mark"))
    for far in (False, True):
        assert screen(model, 120, 40, far, PLAIN).isascii()
    assert signs_for("ascii") is PLAIN and signs_for("utf-8") is FULL and signs_for(None) is PLAIN
    assert signs_for("utf-8", "linux") is PLAIN and signs_for("latin-1") is PLAIN


def test_the_far_view_draws_tempo_and_outcome_large() -> None:
    """Tempo, slots and outcome take most of the screen; the counts stay at the foot."""
    text = screen(filled([repetition(1, "hit hit missed hit hit hit", bpm=147.2)]), far=True)
    assert text.count("█") > 150 and " bpm" in text and "0 of 1 repetition clean" in text


def test_a_picture_is_the_frame_and_the_same_each_time() -> None:
    """The SVG holds the words of the frame, names no other server, and does not change from run to
    run."""
    model = filled([repetition(1)])
    drawn = picture(model)
    assert drawn == picture(model) and drawn.startswith("<svg") and ">clean</text>" in drawn
    assert drawn.count("://") == 1  # the name of the SVG format itself
