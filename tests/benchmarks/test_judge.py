"""The judge itself: the truth gets everything, and each planted mistake is found."""

from __future__ import annotations

import pytest
from baselines import GreedyCursor, Oracle
from contract import score_violations
from judge import judge, listen

from livecheck.core.events import ARTEFACT, STRAY, ExtraTold, RepDone, SlotTold
from livecheck.player.takes import MIXES, make_take
from livecheck.session import Session


def judged(take, spoil=None):
    """The tally of an oracle whose outcomes were spoiled."""

    class Spoiled(Oracle):
        def finish(self):
            outcomes = super().finish()
            return spoil(outcomes) if spoil else outcomes

    return judge(take, listen(take, lambda cell, rig: Spoiled(take, cell, rig), tick_s=None))


def replace_first(outcomes, matches, change):
    at = next(at for at, outcome in enumerate(outcomes) if matches(outcome))
    return [*outcomes[:at], *change(outcomes[at]), *outcomes[at + 1 :]]


@pytest.mark.parametrize("mix", MIXES)
def test_the_truth_gets_everything(mix):
    """An oracle is right in every row of the table, breaks no contract and makes no mistake."""
    for seed in range(4):
        tally, mistakes = judged(make_take(seed, mix))
        assert [mistake.what for mistake in mistakes if "late" not in mistake.what] == []
        assert tally.right == tally.notes > 0
        assert tally.kinds_right == tally.extras
        assert tally.missed_both == tally.missed_true == tally.missed_told
        assert tally.clean_right == tally.clean_judged
        assert (tally.miscounted, tally.violations, tally.crashes, tally.phantoms) == (0, 0, 0, 0)
        assert max(tally.tempo_pct + tally.cv_points, default=0.0) < 1e-9


def test_a_note_left_out_is_wrong_and_a_breach():
    """Every note exactly once."""
    take = make_take(2, "clean")
    tally, _ = judged(
        take, lambda out: replace_first(out, lambda o: isinstance(o, SlotTold), lambda o: [])
    )
    assert tally.right == tally.notes - 1
    assert tally.violations >= 1


def test_a_note_told_twice_is_a_breach():
    """A slot's note cannot be an extra too."""
    take = make_take(2, "clean")

    def twice(outcomes):
        told = next(o for o in outcomes if isinstance(o, SlotTold) and o.note)
        from livecheck.core.events import Extra

        return [*outcomes, ExtraTold(None, Extra(told.note, STRAY))]

    assert judged(take, twice)[0].violations >= 1


def test_a_wrong_verdict_is_found():
    """Right slot, wrong verdict: one note less is right, and the repetition's own list
    disagrees."""
    take = make_take(2, "clean")
    tally, mistakes = judged(
        take,
        lambda out: replace_first(
            out, lambda o: isinstance(o, SlotTold), lambda o: [o._replace(verdict="wrong")]
        ),
    )
    assert tally.right == tally.notes - 1
    assert any("told rep 1 slot 1 wrong" in mistake.what for mistake in mistakes)


def test_a_wrong_kind_is_found():
    """Noise told as an artefact costs the kind, not the note."""
    take = make_take(1, "noise")
    tally, _ = judged(
        take,
        lambda out: replace_first(
            out,
            lambda o: isinstance(o, ExtraTold) and o.extra.kind == "noise",
            lambda o: [o._replace(extra=o.extra._replace(kind=ARTEFACT))],
        ),
    )
    assert tally.right == tally.notes
    assert tally.kinds_right == tally.extras - 1


def test_one_repetition_too_many_costs_itself_alone():
    """Numbers that are off by one behind a made-up repetition spoil nothing else: repetitions are
    paired by notes."""
    take = make_take(2, "clean")

    def shifted(outcomes):
        from dataclasses import replace

        out = []
        for o in outcomes:
            if isinstance(o, RepDone):
                out.append(RepDone(replace(o.repetition, rep=o.repetition.rep + 1)))
            else:
                out.append(o._replace(rep=o.rep + 1) if o.rep else o)
        return out

    tally, mistakes = judged(take, shifted)
    assert tally.right == tally.notes
    assert any("numbered" in mistake.what for mistake in mistakes)


def test_missed_clean_and_complete_are_counted():
    """A complete repetition told broken off is miscounted; its clean flag is then wrong too."""
    take = make_take(0, "dropped")

    def broken(outcomes):
        from dataclasses import replace

        def change(o):
            rep = o.repetition
            return [RepDone(replace(rep, complete=False, clean=False))]

        return replace_first(
            outcomes, lambda o: isinstance(o, RepDone) and o.repetition.complete, change
        )

    tally, _ = judged(take, broken)
    assert tally.miscounted == 1
    assert tally.clean_right <= tally.clean_judged


def test_a_crash_is_counted_and_the_take_is_lost():
    """An exception in what is judged ends that take only."""

    class Broken(Oracle):
        def feed(self, record):
            raise RuntimeError("planted")

    take = make_take(2, "clean")
    tally, mistakes = judge(take, listen(take, lambda cell, rig: Broken(take, cell, rig)))
    assert tally.crashes == 1
    assert tally.right == 0
    assert "planted" in mistakes[0].what


def test_telling_at_the_end_counts_as_late():
    """What is told when the take is over came many slots too late."""
    take = make_take(2, "clean")
    tally, _ = judge(take, listen(take, lambda cell, rig: Oracle(take, cell, rig)))
    assert max(tally.further) > 4


def test_a_greedy_cursor_falls_well_short():
    """For scale: without time and without looking back a tenth of the notes is told wrong."""
    notes = right = 0
    for seed in range(10):
        tally, _ = judge(
            take := make_take(seed, "everything"), listen(take, GreedyCursor, tick_s=None)
        )
        notes, right = notes + tally.notes, right + tally.right
    assert 0.5 < right / notes < 0.95


def test_the_score_is_added_up():
    """Totals that do not agree with the lists, and notes that are in none, are breaches of the
    score's contract."""
    take = make_take(1, "noise")
    heard = listen(take, Session)
    assert score_violations(take, heard) == []
    assert heard.counts is not None
    heard.counts = {**heard.counts, "hit": heard.counts["hit"] + 1}
    assert any("totals" in text for text in score_violations(take, heard))
    heard.outcomes = [
        each for each in heard.outcomes if not isinstance(each, RepDone) or each.repetition.rep != 2
    ]
    assert any("sounded" in text for text in score_violations(take, heard))
