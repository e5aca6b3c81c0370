"""Tables of how right attack and passed-over strings are, on two simulations that share nothing but
the note format."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from typing import NamedTuple

from sound_attack import sitting
from sound_rings import rung
from sound_strings import crossed
from sound_strokes import stroked

from livecheck.measures.noise.cut_off import CUT, NOT_CUT
from livecheck.measures.noise.passed_over import (
    BRUSHED,
    CUT_OFF,
    KINDS,
    SILENT,
    STRUCK,
    read_passages,
)
from livecheck.measures.strokes.attack import PICKED, TOLD, Attacks, read_attacks

WIDE = 40  # columns of the reliability plot


class Said(NamedTuple):
    """A chance that was said of one note, and what was so."""

    seed: int
    chance: float
    picked: bool


def attack(seeds: range, wide: int) -> None:
    """Picked or hammered: share of told notes that are right, and whether the chances hold."""
    for name, make in (("first simulation", sitting), ("second simulation", stroked)):
        counts: Counter[str] = Counter()
        said: list[Said] = []
        for seed in seeds:
            truth = make(seed, wide)
            attacks = read_attacks(truth.reps)
            counts["sittings"] += 1
            counts["say nothing"] += attacks.why is not None
            counts.update(_counted(attacks, truth.picked, getattr(truth, "chances", {})))
            said += [
                Said(seed, one.chance_picked, truth.picked[one.rep, one.slot])
                for one in attacks.struck
                if one.chance_picked is not None and one.attack is not None
            ]
        print(
            f"attack, {name}: {counts['say nothing']} of {counts['sittings']} sittings say nothing"
        )
        _line("all notes", counts, "")
        _line("sittings that say something", counts, "speaking ")
        if counts["known"]:
            known = f"told {counts['known'] / counts['notes']:.3f}, of them right"
            print(
                f"  with every level known: {known} {counts['known right'] / counts['known']:.4f}"
            )
        reliability(said)


def _counted(
    attacks: Attacks, picked: dict[tuple[int, int], bool], known: dict[tuple[int, int], float]
) -> list[str]:
    """Names of everything that happened, once for each time."""
    found = []
    for one in attacks.struck:
        is_picked = picked[one.rep, one.slot]
        own = ["notes"]
        if one.told is not None:
            own.append("told")
            own += ["right"] if (one.told == PICKED) == is_picked else []
            own += ["against"] if one.against_plan else []
            own += (
                ["against right"] if one.against_plan and (one.told == PICKED) == is_picked else []
            )
        found += own
        if attacks.why is None:
            found += ["speaking " + what for what in own]
        chance = known.get((one.rep, one.slot))
        if chance is not None and max(chance, 1 - chance) >= TOLD:
            found += ["known"] + (["known right"] if (chance > 0.5) == is_picked else [])
    return found


def _line(what: str, counts: Counter[str], part: str) -> None:
    notes, told, against = (counts[part + name] for name in ("notes", "told", "against"))
    right, against_right = (
        counts[part + "right"] / max(1, told),
        counts[part + "against right"] / max(1, against),
    )
    print(f"  {what}: {notes}, told {told / max(1, notes):.3f}, of them right {right:.4f}", end="")
    print(f"; {against} told against the plan, right {against_right:.3f}")


def reliability(said: Iterable[Said]) -> None:
    """Said and seen share of picked notes in ten bins, with the error of the seen one, whole
    sittings drawn at once.

    The plot has ``o`` where the chance was said and ``#`` where the share was seen.
    """
    bins: dict[int, list[Said]] = defaultdict(list)
    for one in said:
        bins[min(9, int(10 * one.chance))].append(one)
    print(
        "  said   seen  +- error  off     notes  sittings   0"
        + " picked ".center(WIDE - 1, ".")
        + "1"
    )
    for at in sorted(bins):
        own = bins[at]
        chance = sum(one.chance for one in own) / len(own)
        seen = sum(one.picked for one in own) / len(own)
        by_seed: dict[int, float] = defaultdict(float)
        for one in own:
            by_seed[one.seed] += one.picked - seen
        error = sum(rest**2 for rest in by_seed.values()) ** 0.5 / len(own)
        plot = [" "] * (WIDE + 1)
        plot[round(chance * WIDE)] = "o"
        plot[round(seen * WIDE)] = "#" if plot[round(seen * WIDE)] == " " else "@"
        figures = (
            f"{chance:.3f}  {seen:.3f}  {error:7.3f}  {seen - chance:+.3f}  {len(own):6}  "
            f"{len(by_seed):8}"
        )
        print(f"  {figures}   {''.join(plot)}")


def strings(seeds: range, wide: int) -> None:
    """Passed-over strings: share right in all, and of each kind that is and that is told."""
    for name, make in (("first simulation", crossed), ("second simulation", rung)):
        table: Counter[tuple[str, str | None]] = Counter()
        best: Counter[tuple[str, str | None]] = Counter()
        for seed in seeds:
            take = make(seed, wide)
            told = {(one.rep, one.before, one.string): one for one in read_passages(take.reps)}
            known = getattr(take, "cut_chance", {})
            for key, kind in take.truth.items():
                if kind is None:
                    continue
                one = told.get(key)
                table[kind, one.kind if one is not None else SILENT] += 1
                best[kind, kind if kind in (BRUSHED, STRUCK) else _known(known.get(key, 0.0))] += 1
        _kinds(f"strings, {name}", table)
        if make is rung:
            _kinds("  with every distribution known", best)


def _known(chance: float) -> str | None:
    return CUT_OFF if chance >= CUT else SILENT if chance <= NOT_CUT else None


def _kinds(title: str, table: Counter[tuple[str, str | None]]) -> None:
    total = sum(table.values())
    told = total - sum(count for (_, kind), count in table.items() if kind is None)
    right = sum(table[kind, kind] for kind in KINDS)
    print(f"{title}: {total} passages, told {told / total:.4f}, of them right {right / told:.4f}")
    for kind in KINDS:
        there = sum(count for (true, _), count in table.items() if true == kind)
        unsure = table[kind, None]
        told_so = sum(count for (_, told_kind), count in table.items() if told_kind == kind)
        hit = table[kind, kind]
        print(
            f"  {kind:8} {there:6} there, {unsure / max(1, there):.3f} cannot be told, of the "
            "others "
            f"{hit / max(1, there - unsure):.3f} found; {hit / max(1, told_so):.3f} of those told "
            "are"
        )
