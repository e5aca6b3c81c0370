"""The string in the way, and the string left ringing."""

from __future__ import annotations

import pytest
from played import note, repetition
from statsmodels.stats.proportion import proportion_confint

from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import ARTEFACT, Note, Repetition
from livecheck.measures.noise.crossings import crossings
from livecheck.measures.noise.passed_over import (
    BRUSHED,
    CUT_OFF,
    SILENT,
    STRUCK,
    gravest,
    read_passages,
    read_quiet,
    shares,
)
from livecheck.measures.noise.ring_over import note_off_rules, ring_overs

SKIP = make_cell("skip", [(2, 13), (2, 10), (3, 12), (3, 10), (5, 12), (5, 10)])
STEP = 0.125


def kinds(reps: list[Repetition], rep: int = 1) -> dict[tuple[int, int], str]:
    """(slot before, string): kind, of one repetition."""
    return {(one.before, one.string): one.kind for one in read_passages(reps) if one.rep == rep}


def with_sound(*sounds: Note, cell: Cell = SKIP, **more: object) -> list[Repetition]:
    """A repetition with extras, and one that follows."""
    return [
        repetition(cell, 1, extras=sounds, **more),  # type: ignore[arg-type]
        repetition(cell, 2, start_s=cell.steps * STEP),
    ]


def test_a_crossing_passes_the_strings_between_the_cells_own_ones_too() -> None:
    """Skipping back from string 5 to string 2 passes 4 and 3, and the cell plays 3."""
    assert [(way.before, way.after, way.over) for way in crossings(SKIP)] == [
        (2, 3, ()),
        (4, 5, (4,)),
        (6, 1, (3, 4)),
    ]


def test_nothing_heard_is_silent() -> None:
    """Every passage of the plan is listed, the way back into the next repetition included."""
    assert kinds(with_sound()) == {(4, 4): SILENT, (6, 3): SILENT, (6, 4): SILENT}


@pytest.mark.parametrize(
    ("velocity", "length_s", "kind"),
    [
        (20, 0.04, BRUSHED),
        (30, 0.03, BRUSHED),
        (85, 0.2, STRUCK),
        (60, 0.12, STRUCK),
        (90, None, STRUCK),
    ],
)
def test_a_soft_short_sound_is_brushed_and_a_full_note_struck(
    velocity: int, length_s: float, kind: str
) -> None:
    """measures.md, noise. A note that has not ended goes by its velocity."""
    reps = with_sound(note(3.5 * STEP, 4, 57, velocity, length_s))
    assert kinds(reps) == {(4, 4): kind, (6, 3): SILENT, (6, 4): SILENT}


def test_a_string_of_the_cell_clipped_on_the_way_back_is_told() -> None:
    """String 3 is played by the cell and passed over from slot 6 to slot 1."""
    assert kinds(with_sound(note(5.5 * STEP, 3, 67, 25, 0.03)))[6, 3] == BRUSHED


def test_a_sound_just_before_the_crossing_belongs_to_it() -> None:
    """15 ms before slot 4 the hand is on its way; 60 ms before it is not."""
    assert kinds(with_sound(note(3 * STEP - 0.015, 4, 57, 90, 0.2)))[4, 4] == STRUCK
    assert kinds(with_sound(note(3 * STEP - 0.060, 4, 57, 90, 0.2)))[4, 4] == SILENT


def test_what_the_converter_made_is_silence() -> None:
    """An artefact (under the gate) is no sound of the hand."""
    assert kinds(with_sound(note(3.5 * STEP, 4, 57, 5, 0.01), kind=ARTEFACT))[4, 4] == SILENT


def ringing(*lengths: float | None) -> list[Repetition]:
    """Repetitions in which slot 4 is left ringing; each length in steps, 5 is until its string is
    struck again."""
    return [
        repetition(
            SKIP,
            rep,
            start_s=6 * STEP * rep,
            lengths_s={4: None if steps is None else steps * STEP},
        )
        for rep, steps in enumerate(lengths, 1)
    ]


def test_a_ringing_string_that_stops_as_the_hand_passes_is_cut_off() -> None:
    """Slot 4 rings on over slots 5 and 6, and in each fourth repetition stops half way back to slot
    1."""
    reps = ringing(*([5.0, 5.0, 2.6, 5.0] * 6))
    assert [kinds(reps, rep)[6, 3] for rep in (1, 2, 3, 4)] == [SILENT, SILENT, CUT_OFF, SILENT]
    before = ringing(*([5.0, 5.0, 1.7, 5.0] * 6))
    assert [kinds(before, rep)[6, 3] for rep in (1, 2, 3, 4)] == [SILENT] * 4


def test_one_string_that_rang_on_and_stopped_once_cannot_be_told() -> None:
    """Among strings that are always damped at once: cut off by the hand, or by itself just then."""
    usual = [repetition(SKIP, rep, start_s=6 * STEP * rep) for rep in range(2, 12)]
    passage = next(
        one for one in read_passages([*ringing(2.6), *usual]) if (one.before, one.string) == (6, 3)
    )
    assert passage.kind is None
    assert gravest([passage]) == {}
    share = next(one for one in shares([passage]))
    assert (share.of, share.cannot_tell, sum(share.counts.values())) == (1, 1, 0)


def test_a_note_off_that_is_always_late_is_no_cut() -> None:
    """Where each string goes on for 40 ms into the next step, the converter is slow and the hand
    cut nothing (C-17)."""
    # 4 to 2 passes 3, which was left just before
    cell = make_cell("back", [(3, 5), (4, 5), (2, 5)])
    late = {number: STEP + 0.040 for number in (1, 2, 3)}
    reps = [repetition(cell, rep, start_s=rep * 3 * STEP, lengths_s=late) for rep in range(1, 13)]
    assert {one.kind for one in read_passages(reps)} == {SILENT}


def test_a_note_taken_over_by_the_next_one_of_its_string_was_not_cut() -> None:
    """A mono string's note ends where the brush begins: that is a brush."""
    ringing = repetition(
        SKIP, 1, lengths_s={4: 2.5 * STEP}, extras=[note(5.5 * STEP, 3, 67, 25, 0.03)]
    )
    assert kinds([ringing, repetition(SKIP, 2, start_s=6 * STEP)])[6, 3] == BRUSHED


def test_an_end_that_comes_later_changes_the_answer_when_read_again() -> None:
    """While the string still rings nothing was cut; notes are shared and learn their end."""
    reps = ringing(*([5.0, 5.0, 2.6, 5.0] * 6), None, 5.0)
    assert kinds(reps, 25)[6, 3] == SILENT
    rung = reps[24].slots[3].note
    assert rung is not None
    rung.end_s = rung.onset_s + 2.6 * STEP
    assert kinds(reps, 25)[6, 3] == CUT_OFF


def test_a_repetition_broken_off_has_no_passage_behind_its_end() -> None:
    """Broken off behind slot 4, the hand went nowhere."""
    assert kinds([repetition(SKIP, 1, upto=4)]) == {}


def test_a_missed_slots_crossing_is_read_from_where_it_was_due() -> None:
    """The hand passed though slot 5 did not sound."""
    assert kinds(with_sound(note(3.6 * STEP, 4, 57, 90, 0.2), missing=[5]))[4, 4] == STRUCK


def test_shares_count_by_string_with_wilsons_interval() -> None:
    """The interval of the share touched agrees with statsmodels (sources.md S-12: Wilson, z
    1.959964)."""
    reps = [
        repetition(
            SKIP,
            rep,
            start_s=rep * 6 * STEP,
            extras=[note((rep * 6 + 3.5) * STEP, 4, 57, 85, 0.2)] * (rep % 4 == 0),
        )
        for rep in range(1, 21)
    ]
    four = next(share for share in shares(read_passages(reps)) if share.string == 4)
    assert (four.of, four.counts[STRUCK], four.counts[SILENT]) == (40, 5, 35)
    expected = proportion_confint(5, 40, method="wilson")
    assert (four.touched_low, four.touched_high) == pytest.approx(expected)


def test_a_quiet_string_outside_every_crossing_is_watched_by_repetition() -> None:
    """Strings 1 and 6 lie on no way of the hand; 4 does and is not counted twice."""
    reps = [
        repetition(SKIP, 1, extras=[note(0.3, 6, 40, 90, 0.3)]),
        repetition(SKIP, 2, start_s=1.0),
    ]
    told = {(one.rep, one.string): one.kind for one in read_quiet(reps)}
    assert told == {(1, 1): SILENT, (1, 6): STRUCK, (2, 1): SILENT, (2, 6): SILENT}
    assert all(share.watched for share in shares(read_quiet(reps)))


def test_gravest_names_each_touched_string_once() -> None:
    """Brushed in one crossing and struck in another is struck; silent strings are left out."""
    reps = with_sound(note(3.5 * STEP, 4, 57, 20, 0.03), note(5.5 * STEP, 4, 57, 90, 0.2))
    assert gravest(one for one in read_passages(reps) if one.rep == 1) == {4: STRUCK}


def test_ring_over_is_beyond_what_the_note_off_adds_as_a_rule() -> None:
    """Note-offs 20 ms late as a rule; one string that rings 90 ms into the next slot rings over by
    70."""
    usual = {2: STEP + 0.020, 4: STEP + 0.020, 6: STEP + 0.020}
    reps = [repetition(SKIP, rep, start_s=rep * 6 * STEP, lengths_s=usual) for rep in range(1, 11)]
    reps[4] = repetition(SKIP, 5, start_s=5 * 6 * STEP, lengths_s={**usual, 4: STEP + 0.090})
    assert note_off_rules(reps)[3] == pytest.approx(0.020)
    told = {(one.rep, one.before): one.ring_over_ms for one in ring_overs(reps)}
    assert told[5, 4] == pytest.approx(70.0)
    assert told[6, 4] == pytest.approx(0.0, abs=1e-6)


def test_the_rule_of_a_string_needs_crossings() -> None:
    """Two repetitions are too few to know a converter by: nothing is said."""
    reps = [repetition(SKIP, rep, start_s=rep * 6 * STEP) for rep in (1, 2)]
    assert set(note_off_rules(reps).values()) == {None}
    assert ring_overs(reps) == ()
    assert read_passages([]) == ()
