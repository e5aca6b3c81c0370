"""A stage of our own for the matcher: takes with the truth of every note, and a judge.

    python -m tests.core.stage --set A --takes 200 [--class restarts] [--show 20] [--oracle]

Independent of the built-in player: other distributions, other parameters, labels by formats.md
alone. Set A is for development. Set B has other seeds and wider ranges, and is opened only to
report.
"""

from __future__ import annotations

import argparse
import math
import random
import sys
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))  # the stage's parts stand beside it

from stage_cells import a_cell, a_rig
from stage_convert import Converter, Faults, Sent, Take, weigh
from stage_play import Habits, Hands

from livecheck.core.events import ExtraTold, Note, Outcome, RepDone, Repetition
from livecheck.session import Session

CLASSES = (
    "plain", "hand", "strings", "dirty", "legato", "restarts", "stumbles", "fast", "around",
    "everything",
)  # fmt: skip


# -------------------------------------------------------------------------------------------- takes


def a_take(name: str, seed: int, wild: bool = False) -> Take:
    """One take of a class; the same seed gives the same take. ``wild``: the wider ranges of set
    B."""
    rng = random.Random(f"{name} {seed} {wild}")
    far = 1.5 if wild else 1.0

    def rate(low: float, high: float) -> float:
        return math.exp(rng.uniform(math.log(low), math.log(high * far)))

    cell = a_cell(rng)
    if name == "legato":
        while not any(not slot.picked for slot in cell.slots):
            cell = a_cell(rng)
    rig, delay = a_rig(rng, cell, wild)
    speed = (
        rng.uniform(12, 20)
        if name == "fast"
        else math.exp(rng.uniform(math.log(3), math.log(20 if wild else 16)))
    )
    habits = Habits(notes_per_s=speed, reps=rng.randint(5, 12), scatter=rng.uniform(0.015, 0.04))
    habits.walk = rng.uniform(0.001, 0.012) * far
    habits.gallop = rng.choice((0.0, 0.0, rng.uniform(0.01, 0.06) * far))
    habits.heavy = rng.choice((0.0, 0.02))
    faults = Faults(
        serial=rng.random() < 0.6,
        announce_range=rng.random() < 0.2,
        jitter_ms=rng.uniform(0.1, 1.2) * far,
    )
    faults.overlap = rng.choice((0.0, 0.3, 1.0))
    faults.velocity_zero = rng.choice((0.0, 0.5, 1.0))
    every = name == "everything"
    if every or name in ("hand", "fast"):
        habits.drop, habits.wrong, habits.soft = (
            rate(0.003, 0.05),
            rate(0.003, 0.03),
            rate(0.003, 0.06),
        )
        habits.other_string, habits.misplaced, habits.muffed = (
            rate(0.001, 0.01),
            rate(0.001, 0.02),
            rate(0.001, 0.01),
        )
    if every or name in ("strings", "fast"):
        habits.clip, habits.ring = rate(0.01, 0.15), rate(0.002, 0.03)
        habits.drop = max(habits.drop, rate(0.001, 0.01))
    if every or name in ("dirty", "fast"):
        faults.ghost, faults.double = rate(0.003, 0.06), rate(0.003, 0.04)
        faults.octave_held, faults.octave_corrected = rate(0.001, 0.02), rate(0.001, 0.02)
    if every or name in ("dirty", "legato"):
        faults.late_off, faults.no_off, faults.vibrato = (
            rng.choice((0.0, 0.3)),
            rng.choice((0.0, 0.05)),
            0.3,
        )
    if every or name in ("legato", "fast"):
        faults.bend_alone = rng.choice((0.3, 0.8, 1.0))
        habits.soft = max(habits.soft, rate(0.003, 0.03))
    if every or name == "restarts":
        habits.brk, habits.cut = rate(0.1, 0.4), rate(0.02, 0.15)
    if every or name == "stumbles":
        habits.pause, habits.jump = rate(0.05, 0.3), rate(0.03, 0.2)
        habits.drop = max(habits.drop, rate(0.002, 0.02))
    if every or name == "around":
        habits.stop, habits.noodle, habits.entry = rate(0.1, 0.4), rng.choice((0.0, 0.5)), 0.3
    hands = Hands(rng, cell, habits)
    hands.take()
    records, sent = Converter(rng, cell, rig, delay, faults).send(hands)
    weigh(sent, hands.reps, rig)
    about = f"{len(cell.slots)} slots, {cell.name}, {speed:.1f} notes/s"
    return Take(name, seed, cell, rig, records, sent, hands.reps, 1 / speed, about)


def takes(which: str, count: int, classes: tuple[str, ...] = CLASSES) -> list[Take]:
    """``count`` takes of set A or B, spread over the classes."""
    first = 1 if which == "A" else 1_000_001
    return [a_take(classes[i % len(classes)], first + i, which == "B") for i in range(count)]


# -------------------------------------------------------------------------------------------- judge


@dataclass
class Told:
    """What was said about a take, by note."""

    labels: dict[tuple[int, float], str] = field(default_factory=dict)
    bends: list[tuple[Note, str]] = field(default_factory=list)
    reps: list[Repetition] = field(default_factory=list)
    twice: int = 0


def listen(outcomes: list[Outcome]) -> Told:
    """Collect the final word on every note from finished repetitions and from what lies outside."""
    told = Told()

    def add(note: Note, label: str) -> None:
        if note.by == "bend":
            told.bends.append((note, label))
            return
        key = (note.string, note.onset_s)
        told.twice += key in told.labels
        told.labels[key] = label

    for outcome in outcomes:
        if isinstance(outcome, RepDone):
            told.reps.append(outcome.repetition)
            for result in outcome.repetition.slots:
                if result.note is not None:
                    add(result.note, f"{result.slot} {result.verdict}")
            for extra in outcome.repetition.extras:
                add(extra.note, extra.kind)
        elif isinstance(outcome, ExtraTold) and outcome.rep is None:
            add(outcome.extra.note, outcome.extra.kind)
    return told


KINDS = {"noise", "stray", "artefact"}


@dataclass
class Score:
    """Counts over takes; ``wrong`` holds (take, note, told label) for showing."""

    n: Counter[str] = field(default_factory=Counter)
    wrong: list[tuple[Take, Sent, str]] = field(default_factory=list)


def judge(take: Take, told: Told, score: Score) -> None:
    """Compare what was said with what is true."""
    n = score.n
    n["takes"] += 1
    n["contract"] += told.twice + abs(len(told.labels) - sum(one.by == "note" for one in take.sent))
    bends = list(told.bends)
    for one in take.sent:
        if one.by == "bend":
            near = [
                pair
                for pair in bends
                if pair[0].string == one.string and abs(pair[0].onset_s - one.t) < 0.04
            ]
            label = near[0][1] if near else "not heard"
            if near:
                bends.remove(near[0])
            n["bends"] += 1
            n["bends right"] += label in one.ok
            if label not in one.ok:
                score.wrong.append((take, one, label))
            continue
        label = told.labels.get((one.string, one.arrival), "not told")
        right = label in one.ok or (label in KINDS and bool(one.ok & KINDS))
        n["notes"] += 1
        n["notes right"] += right
        if right and label in KINDS:
            n["extras"] += 1
            n["kinds right"] += label in one.ok
        if label not in one.ok:
            score.wrong.append((take, one, label))
    n["phantom bends"] += len(bends)
    for note, label in bends:
        phantom = Sent(
            note.onset_s, note.string, note.key, note.pitch, None, set(), "no such note", "bend"
        )
        phantom.arrival = note.onset_s
        score.wrong.append((take, phantom, label))
    _judge_reps(take, told, n)


def _judge_reps(take: Take, told: Told, n: Counter[str]) -> None:
    """Pair repetitions by the slot notes that they share, the largest share first."""
    mine: list[set[tuple[int, float]]] = [set() for _ in take.reps]
    for one in take.sent:
        if one.rep is not None and one.by == "note":
            mine[one.rep].add((one.string, one.arrival))
    theirs = [
        {(r.note.string, r.note.onset_s) for r in rep.slots if r.note is not None}
        for rep in told.reps
    ]
    shared = sorted(
        ((-len(a & b), i, j) for i, a in enumerate(mine) for j, b in enumerate(theirs) if a & b)
    )
    pair: dict[int, int] = {}
    for _, i, j in shared:
        if i not in pair and j not in pair.values():
            pair[i] = j
    back = {j: i for i, j in pair.items()}
    for i, rep in enumerate(take.reps):
        other = told.reps[pair[i]] if i in pair else None
        n["complete"] += rep.complete
        n["miscounted"] += rep.complete and not (other and other.complete) and not rep.doubtful
        if rep.doubtful:
            continue
        missed = {k for k, verdict in rep.verdicts.items() if verdict == "missed"}
        said = {r.slot for r in other.slots if r.verdict == "missed"} if other else set()
        n["missed both"] += len(missed & said)
        n["missed only true"] += len(missed - said)
        n["missed only told"] += len(said - missed)
        if rep.complete and other and other.complete:
            clean = _clean(take, i)
            if clean is not None:
                n["clean asked"] += 1
                n["clean right"] += clean == other.clean
                if clean != other.clean:
                    n["called flawed" if clean else "called clean"] += 1
    for j, rep_told in enumerate(told.reps):
        if rep_told.complete and (
            j not in back or not (take.reps[back[j]].complete or take.reps[back[j]].doubtful)
        ):
            n["miscounted"] += 1


def _clean(take: Take, index: int) -> bool | None:
    """Was the repetition clean? None where an extra lies so near its edge that it could belong to
    the neighbour."""
    rep = take.reps[index]
    if any(verdict != "hit" for verdict in rep.verdicts.values()):
        return False
    starts = [_start(take, i) for i in range(len(take.reps))]
    begin = starts[index]
    after = starts[index + 1] if index + 1 < len(starts) else math.inf
    beat = take.cell.grid * take.step_s
    for one in take.sent:
        if one.by == "bend" or one.slot is not None or not one.ok & {"noise", "stray"}:
            continue
        t = one.arrival
        edge = 0.012 if rep.verdicts.get(1) != "missed" else 0.3 * take.step_s + 0.02
        near_start = abs(t - begin) < edge or abs(t - after) < 0.3 * take.step_s + 0.02
        near_end = after - rep.end > beat and abs(t - rep.end - beat) < beat
        if near_start or near_end:
            return None
        if begin < t < min(after, rep.end + beat):
            return None if "artefact" in one.ok or len(one.ok - {"noise", "stray"}) else False
    return True


def _start(take: Take, index: int) -> float:
    """Arrival of slot 1, or of the time it was meant for."""
    heard = [one.arrival for one in take.sent if one.rep == index and one.slot is not None]
    first = [one.arrival for one in take.sent if one.rep == index and one.slot == 1]
    rep = take.reps[index]
    if first:
        return first[0]
    entered = rep.verdicts.get(1) == "missed" and index > 0 and take.reps[index - 1].broken
    return min(heard) if entered or index == 0 else rep.due[1] + 0.01


# ------------------------------------------------------------------------------------------- runner


def run(takes_: list[Take]) -> dict[str, Score]:
    """Judge takes, class by class."""
    scores: dict[str, Score] = {}
    for take in takes_:
        score = scores.setdefault(take.name, Score())
        try:
            outcomes = Session(take.cell, take.rig).feed_all(take.records)
        except Exception as error:
            score.n["crashes"] += 1
            print(f"crash: {take.name} {take.seed}: {error!r}")
            continue
        judge(take, listen(outcomes), score)
    return scores


def pct(part: float, whole: float) -> str:
    return f"{100 * part / whole:7.2f}" if whole else "      –"


def table(scores: dict[str, Score]) -> str:
    """One line a class, and one for all."""
    whole = Score()
    for score in scores.values():
        whole.n.update(score.n)
    lines = [
        f"{'class':<11}{'notes':>7}{'right':>8}{'bends':>7}{'right':>8}{'phant':>6}"
        f"{'kinds':>8}{'missF1':>8}{'compl':>7}{'miscnt':>8}{'clean':>8}"
        f"{'+flaw':>6}{'+clean':>7}{'contr':>6}{'crash':>6}"
    ]
    for name, score in [*scores.items(), ("all", whole)]:
        n = score.n
        both = n["missed both"]
        lines.append(
            f"{name:<11}{n['notes']:>7}{pct(n['notes right'], n['notes']):>8}"
            f"{n['bends']:>7}{pct(n['bends right'], n['bends']):>8}"
            f"{n['phantom bends']:>6}{pct(n['kinds right'], n['extras']):>8}"
            f"{pct(2 * both, 2 * both + n['missed only true'] + n['missed only told']):>8}"
            f"{n['complete']:>7}{pct(n['miscounted'], n['complete']):>8}"
            f"{pct(n['clean right'], n['clean asked']):>8}{n['called flawed']:>6}"
            f"{n['called clean']:>7}{n['contract']:>6}{n['crashes']:>6}"
        )
    return "\n".join(lines)


def show(take: Take, one: Sent, label: str, told: Told) -> str:
    """The notes around an error, one a line; the error's own line is marked."""
    cell = " ".join(
        f"{slot.number}:s{slot.string}p{slot.pitch}@{slot.start}" for slot in take.cell.slots
    )
    gate = take.rig.gate
    lines = [
        f"--- {take.name} seed {take.seed}: {take.about}, step {take.step_s * 1000:.0f} ms",
        f"    cell {cell}, {take.cell.steps} steps, grid {take.cell.grid}, quiet {take.cell.quiet}",
        f"    gate {gate.velocity}, {gate.length_ms:.0f} ms",
        "    onset_s  string key/pitch vel  len_ms  truth                 told        why",
    ]
    place = min(range(len(take.sent)), key=lambda i: abs(take.sent[i].arrival - one.arrival))
    last = 0.0
    for sent in take.sent[max(0, place - 7) : place + 9]:
        heard = told.labels.get((sent.string, sent.arrival), "?")
        if sent.by == "bend":
            near = [
                label
                for note, label in told.bends
                if note.string == sent.string and abs(note.onset_s - sent.t) < 0.04
            ]
            heard = near[0] if near else "not heard"
        length = (
            f"{(sent.ended - sent.arrival) * 1000:6.0f}" if sent.ended is not None else "     –"
        )
        rep = "" if sent.rep is None else f"r{sent.rep + 1} "
        mark = ">>" if heard not in sent.ok else "  "
        velocity = "bend" if sent.velocity is None else sent.velocity
        lines.append(
            f" {mark} {sent.arrival:8.4f} (+{(sent.arrival - last) * 1000:4.0f}) s{sent.string} "
            f"{sent.key:3}/{sent.pitch:<3} {velocity:>4} {length}  "
            f"{rep + ' | '.join(sorted(sent.ok)):<22}{heard:<12}{sent.why}"
        )
        last = sent.arrival
    lines.append("    told reps: " + "; ".join(
        f"{rep.start_s:.3f}–{rep.end_s:.3f} {'complete' if rep.complete else 'broken'} pause "
        f"{rep.pause_s:.2f}"
        for rep in told.reps if rep.end_s > one.arrival - 1.5 and rep.start_s < one.arrival + 1.5
    ))  # fmt: skip
    return "\n".join(lines)


def main() -> None:
    ask = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    ask.add_argument("--set", choices="AB", default="A")
    ask.add_argument("--takes", type=int, default=200)
    ask.add_argument("--class", dest="only", choices=CLASSES)
    ask.add_argument("--seed", type=int, help="one take alone, with every error shown")
    ask.add_argument("--show", type=int, default=0)
    ask.add_argument(
        "--oracle", action="store_true", help="the whole-take dynamic program beside it"
    )
    chosen = ask.parse_args()
    classes = (chosen.only,) if chosen.only else CLASSES
    stage = takes(chosen.set, chosen.takes, classes)
    if chosen.seed is not None:
        stage = [a_take(chosen.only, chosen.seed, chosen.set == "B")]
        chosen.show = 1000
    scores = run(stage)
    print(table(scores))
    if chosen.oracle:
        from oracle import table_of

        print(table_of(stage))
    shown: Counter[tuple[str, int, int]] = Counter()
    wrong = [error for score in scores.values() for error in score.wrong]
    if chosen.show:
        kinds = Counter(
            f"{one.why or 'plain note'}: {' | '.join(sorted(one.ok))} told {said}"
            for _, one, said in wrong
        )
        print("\n".join(f"{count:5} {kind}" for kind, count in kinds.most_common(25)))
    for take, one, label in wrong:
        if sum(shown.values()) >= chosen.show:
            break
        key = (take.name, take.seed, 0 if chosen.seed is None else int(one.arrival))
        if not shown[key]:
            shown[key] += 1
            print(
                show(take, one, label, listen(Session(take.cell, take.rig).feed_all(take.records)))
            )


if __name__ == "__main__":
    main()
