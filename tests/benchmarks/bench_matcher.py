"""Judge the session on takes of the built-in player, mix by mix.

  python tests/benchmarks/bench_matcher.py                          the development takes, all mixes
  python tests/benchmarks/bench_matcher.py --mix stumbles --errors 5
  python tests/benchmarks/bench_matcher.py --set report --takes 40  takes that nothing was tuned on
  python tests/benchmarks/bench_matcher.py --who greedy  a simple way of telling, for scale

Development and report takes have different seeds; the report takes are drawn from wider ranges too.
Open the report takes only to report.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial

from baselines import GreedyCursor, Oracle, WholeTake
from judge import Mistake, Tally, context, judge, listen

from livecheck.core.cell import Cell
from livecheck.core.rig import Rig
from livecheck.player.takes import MIXES, Take, make_take
from livecheck.session import Session

FIRST_SEED = {"dev": 0, "report": 1_000_000}
HARD = ("everything", "stumbles", "fast")


def teller(who: str, take: Take) -> Callable[[Cell, Rig], object]:
    """What is judged: the session or a baseline."""
    if who == "session":
        return Session
    if who == "oracle":
        return partial(Oracle, take)
    if who == "greedy":
        return GreedyCursor
    return partial(WholeTake, take)


def one(job: tuple[str, int, bool, str, int]) -> tuple[str, int, Tally, list[str]]:
    """Make, tell and judge one take."""
    mix, seed, wide, who, errors = job
    take = make_take(seed, mix, wide=wide)
    heard = listen(take, teller(who, take))
    tally, mistakes = judge(take, heard)
    lines = (
        [] if not errors else [_show(take, heard, mistake) for mistake in _spread(mistakes, errors)]
    )
    if lines:
        lines.insert(
            0,
            f"--- {mix} seed {seed}: {_cell(take)}, {take.habits.notes_per_s:.1f} notes/s, "
            f"{len(mistakes)} mistakes",
        )
    return mix, seed, tally, lines


def _spread(mistakes: list[Mistake], most: int) -> list[Mistake]:
    """The first mistake of each bad moment: the others mostly follow from it."""
    chosen: list[Mistake] = []
    for mistake in mistakes:
        if not chosen or mistake.t_s - chosen[-1].t_s > 0.5 or mistake.t_s == 0.0:
            chosen.append(mistake)
    return chosen[:most]


def _show(take: Take, heard: object, mistake: Mistake) -> str:
    return f"  {mistake.what}\n{context(take, heard, mistake.t_s)}"  # type: ignore[arg-type]


def _cell(take: Take) -> str:
    slots = " ".join(
        f"{slot.string}/{slot.fret}{slot.stroke[0]}@{slot.start}" for slot in take.cell.slots
    )
    return f"[{slots}] {take.cell.steps} steps, grid {take.cell.grid}, quiet {take.cell.quiet}"


# ---------------------------------------------------------------------------------------- the table

COLUMNS = (
    "mix", "notes", "right %", "bend %", "missF1", "kind %", "clean %", "misc %", "tempo %",
    "cv pt", "<=2 %", "max", "wait", "viol", "crash",
)  # fmt: skip


def share(part: int, whole: int, digits: int = 2) -> str:
    return f"{100.0 * part / whole:.{digits}f}" if whole else "-"


def quantile(values: Sequence[float], q: float) -> float:
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(q * len(ordered)))] if ordered else float("nan")


def row(name: str, tally: Tally) -> tuple[str, ...]:
    """One line of the table. tempo and cv: mean of the absolute differences; wait: seconds, 99th
    percentile."""
    ends = tally.missed_true + tally.missed_told
    return (
        name,
        str(tally.notes),
        share(tally.right, tally.notes, 3),
        share(tally.bends_right, tally.bends),
        f"{2 * tally.missed_both / ends:.4f}" if ends else "-",
        share(tally.kinds_right, tally.extras),
        share(tally.clean_right, tally.clean_judged),
        share(tally.miscounted, tally.complete),
        f"{statistics.fmean(tally.tempo_pct):.4f}" if tally.tempo_pct else "-",
        f"{statistics.fmean(tally.cv_points):.4f}" if tally.cv_points else "-",
        share(sum(each <= 2 for each in tally.further), len(tally.further)),
        str(max(tally.further, default=0)),
        f"{quantile(tally.wait_s, 0.99):.2f}",
        str(tally.violations),
        str(tally.crashes),
    )


def print_table(rows: Sequence[tuple[str, ...]]) -> None:
    widths = [max(len(each[at]) for each in [COLUMNS, *rows]) for at in range(len(COLUMNS))]
    for each in [COLUMNS, *rows]:
        print(
            "  ".join(
                cell.ljust(w) if at == 0 else cell.rjust(w)
                for at, (cell, w) in enumerate(zip(each, widths))
            )
        )


def main() -> None:
    parser = argparse.ArgumentParser(
        description="Judge the matcher on takes of the built-in player."
    )
    parser.add_argument("--set", choices=tuple(FIRST_SEED), default="dev")
    parser.add_argument("--takes", type=int, default=20, help="takes a mix")
    parser.add_argument("--first", type=int, default=0, help="skip so many seeds of the set")
    parser.add_argument(
        "--mix", action="append", choices=tuple(MIXES), help="only this mix; may be given again"
    )
    parser.add_argument(
        "--who", choices=("session", "oracle", "greedy", "whole"), default="session"
    )
    parser.add_argument(
        "--errors", type=int, default=0, metavar="N", help="show up to N mistakes a take"
    )
    parser.add_argument("--seeds", action="store_true", help="a line for each take too")
    parser.add_argument("--jobs", type=int, default=2)
    asked = parser.parse_args()
    mixes, wide = asked.mix or list(MIXES), asked.set == "report"
    seeds = [FIRST_SEED[asked.set] + asked.first + at for at in range(asked.takes)]
    jobs = [(mix, seed, wide, asked.who, asked.errors) for mix in mixes for seed in seeds]
    started = time.perf_counter()
    tallies, single = {mix: Tally() for mix in mixes}, list[tuple[str, ...]]()
    with ProcessPoolExecutor(asked.jobs) as pool:
        for mix, seed, tally, lines in pool.map(one, jobs, chunksize=4):
            tallies[mix].add(tally)
            if asked.seeds:
                single.append(row(f"{mix} {seed}", tally))
            for line in lines:
                print(line)
    total = Tally()
    rows = []
    for mix, tally in tallies.items():
        rows.append(row(mix, tally))
        if mix != "wild" or len(tallies) == 1:
            total.add(tally)
    rows.append(row("all but wild" if "wild" in tallies else "all", total))
    print_table([*single, *rows])
    print(
        "tempo within 0.15 %: "
        f"{share(sum(each <= 0.15 for each in total.tempo_pct), len(total.tempo_pct))} %,"
        " cv within 0.1 point: "
        f"{share(sum(each <= 0.1 for each in total.cv_points), len(total.cv_points))} % of"
        f" {len(total.tempo_pct)} repetitions; {total.untold_figures} figures not told; "
        f"{total.phantoms} notes made up"
    )
    further = [sum(each == at for each in total.further) for at in range(5)]
    print(
        "told after 0, 1, 2, 3, 4 further slots:",
        ", ".join(f"{share(each, len(total.further))} %" for each in further),
    )
    print(
        f"{asked.set} takes from seed {seeds[0]}, {asked.takes} a mix, "
        f"{time.perf_counter() - started:.0f} s"
    )


if __name__ == "__main__":
    main()
