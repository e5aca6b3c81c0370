"""The screen of a climb: what stands on it from afar and near, in every size."""

from __future__ import annotations

from collections import Counter

import pytest
from rich.cells import cell_len

from livecheck.console.climb_screen import far_lines, left_in, near_lines
from livecheck.console.lines import plain_text
from livecheck.console.palette import FULL, PLAIN
from livecheck.core.cell import make_cell
from livecheck.core.climb import Begin, Climb, Heard, Judge, Plan

S = 1_000_000_000
CELL = make_cell("six", [(2, 10), (2, 12), (3, 12), (3, 10), (5, 12), (5, 10)])


class Ahead:
    def __init__(self, bpm: float) -> None:
        self.bpm, self.reps, self.kind = bpm, 4, "try"


def climbing(heard: Heard, until_s: float) -> tuple[Climb, int, list[Plan]]:
    """A climb whose first block, at 120 bpm, was heard so; its next one is at 126."""
    climb = Climb(CELL, lambda blocks: Ahead(120.0 + 6.0 * len(blocks)), 5)
    plans, now_ns, todo = [], 0, climb.begin(0)
    while True:
        for one in todo:
            if isinstance(one, Begin):
                plans.append(one.plan)
            elif isinstance(one, Judge):
                climb.judged(now_ns, heard)
        now_ns += S // 100
        if now_ns > until_s * S:
            return climb, now_ns, plans
        todo = climb.tick(now_ns)


FAULTY = Heard(4, 1, failed=Counter({5: 2, 3: 1}), noise=Counter({4: 1}))


def test_in_a_rest_the_next_tempo_stands_large_and_what_failed_is_named() -> None:
    """Note numbers stand under the signs of the last block; the note that failed has another sign
    than those that held."""
    climb, now_ns, _ = climbing(FAULTY, 8.0)
    text = plain_text(far_lines(climb, now_ns, CELL, "", 120, 40, FULL))
    assert text.startswith("next: bpm") and "REST" not in text.split("\n")[0]
    assert "last: 120 bpm, clean 1 of 4; note 5 failed twice; note 3 failed once" in text
    assert "faster" in text
    rows = text.split("\n")
    (numbers,) = (at for at, row in enumerate(rows) if row.split() == list("123456"))
    five, one = rows[numbers].index("5"), rows[numbers].index("1")
    above = [row.ljust(120) for row in rows[numbers - 4 : numbers]]
    assert any(row[one] == "█" for row in above[:2])
    assert not any(row[five] == "█" for row in above[:2])


def test_in_a_block_the_tempo_now_and_what_is_left_are_large() -> None:
    """First the count-in, then the repetitions left, the one under way included."""
    climb, now_ns, plans = climbing(FAULTY, 4.5)
    plan = plans[0]
    each = (plan.until_ns - plan.from_ns) // 4
    within = [left_in(plan, plan.from_ns + k * each + each // 2) for k in range(4)]
    assert within == [4, 3, 2, 1]
    assert left_in(plan, plan.from_ns) == 4 and left_in(plan, plan.until_ns - 1) == 1
    text = plain_text(far_lines(climb, now_ns, CELL, "", 120, 40, FULL))
    assert text.startswith("now: bpm") and text.count("█") > 60
    small = plain_text(far_lines(climb, now_ns, CELL, "", 40, 8, PLAIN))
    assert f"{left_in(plan, now_ns)} left" in small


@pytest.mark.parametrize("lines", [far_lines, near_lines])
def test_every_size_is_drawn_and_holds_the_caution(lines) -> None:  # type: ignore[no-untyped-def]
    """No line is wider than the window, none is missing, and 'stop at pain' begins the last."""
    climb, now_ns, _ = climbing(FAULTY, 8.0)
    for width in (5, 20, 40, 80, 200):
        for height in (1, 2, 3, 5, 8, 12, 24, 60):
            drawn = lines(climb, now_ns, CELL, "The click: gone.", width, height, FULL)
            assert len(drawn) == height
            assert max(sum(cell_len(part.text) for part in line) for line in drawn) <= width
            assert plain_text(drawn).split("\n")[-1].startswith("Stop at pain"[:width].strip())


def test_near_each_block_has_its_line() -> None:
    """And what is said to the player stands under them."""
    climb, now_ns, _ = climbing(FAULTY, 20.0)
    text = plain_text(near_lines(climb, now_ns, CELL, "Pause.", 120, 20, FULL))
    assert "block 1: 120 bpm, clean 1 of 4; note 5 failed twice" in text
    assert "block 2: 126 bpm" in text and "Pause." in text
