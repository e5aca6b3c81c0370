"""What every telling of a take must keep to, right or wrong: the contract of outcomes and of the
score's JSON."""

from __future__ import annotations

import json
from bisect import bisect_right
from collections import Counter
from typing import TYPE_CHECKING

from livecheck.core.events import MISSED
from livecheck.files.report import score
from livecheck.player.takes import Take

if TYPE_CHECKING:
    from judge import Heard

_ROUNDING_S = 2e-6
SLOT_KEYS = {
    "slot",
    "verdict",
    "expected_s",
    "onset_s",
    "by",
    "string",
    "note",
    "velocity",
    "deviation_ms",
    "played",
    "played_chance",
}
EXTRA_KEYS = {"onset_s", "string", "note", "velocity", "kind"}
REP_KEYS = {
    "rep",
    "start_s",
    "end_s",
    "complete",
    "pause_s",
    "tempo_bpm",
    "notes_per_s",
    "slots",
    "extras",
}
REP_KEYS |= {"accuracy", "clean", "evenness"}


def violations(take: Take, heard: Heard) -> list[str]:
    """Breaches of the contract: every note exactly once, slots in order with one entry each,
    nothing taken back."""
    found: list[str] = []
    sounded = Counter((note.onset_s, note.string) for note in take.truth.notes if note.by == "note")
    told = Counter((note.onset_s, note.string) for note in heard.notes if note.by == "note")
    if heard.crash is None:
        found += [
            f"note at {key[0]:.4f} on string {key[1]} told {told[key]} times"
            for key in sounded
            if told[key] != 1
        ]
    found += [
        f"a note at {key[0]:.4f} on string {key[1]} told that never came"
        for key in told
        if key not in sounded
    ]
    entries = Counter(
        (note.label.rep, note.label.slot) for note in heard.notes if note.label.slot is not None
    )
    entries.update((rep, slot) for rep, slot, _ in heard.missed)
    found += [
        f"rep {key[0]} slot {key[1]} told {times} times"
        for key, times in entries.items()
        if times != 1
    ]
    numbers = [done.rep for done in heard.reps]
    if numbers != list(range(1, len(numbers) + 1)):
        found.append(f"repetitions numbered {numbers}")
    if {rep for rep, _ in entries} - set(numbers):
        found.append("slots told of a repetition that was never finished")
    slots_of: dict[int, dict[int, str]] = {}
    for note in heard.notes:
        if note.label.slot is not None and note.label.rep is not None:
            slots_of.setdefault(note.label.rep, {})[note.label.slot] = note.label.verdict
    for rep, slot, _ in heard.missed:
        slots_of.setdefault(rep, {})[slot] = MISSED
    extras = Counter(note.label.rep for note in heard.notes if note.label.slot is None)
    for done in heard.reps:
        if [result.slot for result in done.slots] != list(range(1, len(done.slots) + 1)):
            found.append(f"rep {done.rep}: slots out of order")
        if done.complete and len(done.slots) != len(take.cell.slots):
            found.append(f"rep {done.rep}: complete with {len(done.slots)} slots")
        if {result.slot: result.verdict for result in done.slots} != slots_of.get(done.rep, {}):
            found.append(f"rep {done.rep}: finished otherwise than told")
        if len(done.extras) != extras[done.rep]:
            found.append(f"rep {done.rep}: {len(done.extras)} extras, {extras[done.rep]} told")
        if not done.complete and done.slots and done.slots[-1].verdict == MISSED:
            found.append(f"rep {done.rep}: broken off behind a slot that did not sound")
    return found


def score_violations(take: Take, heard: Heard) -> list[str]:
    """Breaches in the score object that the outcomes give: its shape, its order, its sums
    (formats.md)."""
    if heard.counts is None or heard.crash is not None:
        return []
    told = json.loads(json.dumps(score(take.cell, heard.outcomes, heard.counts), allow_nan=False))
    found: list[str] = []
    if told.get("format") != "livecheck-score/1" or told.get("cell") != {
        "name": take.cell.name,
        "slots": len(take.cell.slots),
    }:
        found.append("score: no such format or cell")
    if not set(told) >= {"format", "cell", "reps", "outside", "totals"}:
        found.append(f"score: keys {sorted(told)}")
    sums: Counter[str] = Counter(outside=len(told["outside"]))
    onsets: list[tuple[float, int]] = []
    before_s = float("-inf")
    for rep in told["reps"]:
        name = f"score: rep {rep['rep']}"
        sums.update(["reps"] + ["complete"] * rep["complete"] + ["clean"] * rep["clean"])
        if not set(rep) >= REP_KEYS or any(not set(slot) >= SLOT_KEYS for slot in rep["slots"]):
            found.append(f"{name}: keys of the format are missing")
        if rep["start_s"] < before_s or rep["end_s"] < rep["start_s"]:
            found.append(
                f"{name}: from {rep['start_s']} to {rep['end_s']}, the one before from {before_s}"
            )
        before_s = rep["start_s"]
        sums.update(slot["verdict"] for slot in rep["slots"])
        sums.update(extra["kind"] for extra in rep["extras"])
        hits = sum(slot["verdict"] == "hit" for slot in rep["slots"])
        if rep["accuracy"] is None or abs(rep["accuracy"] - hits / len(rep["slots"])) > 0.001:
            found.append(
                f"{name}: accuracy {rep['accuracy']} of {hits} hits in {len(rep['slots'])}"
            )
        flaws = [extra for extra in rep["extras"] if extra["kind"] != "artefact"]
        if rep["clean"] != (rep["complete"] and hits == len(rep["slots"]) and not flaws):
            found.append(f"{name}: clean is {rep['clean']}")
        for slot in rep["slots"]:
            empty = [
                slot[key] is None for key in ("onset_s", "by", "string", "note", "deviation_ms")
            ]
            if (slot["played"] is None) != (slot["played_chance"] is None):
                found.append(f"{name} slot {slot['slot']}: a stroke and no chance, or without one")
            if slot["verdict"] == MISSED and not all([*empty, slot["played"] is None]):
                found.append(f"{name} slot {slot['slot']}: missed, with a note")
            if slot["verdict"] != MISSED and any(empty[:4]):
                found.append(f"{name} slot {slot['slot']}: {slot['verdict']} without a note")
            if (slot["by"] == "note") != (slot["velocity"] is not None):
                found.append(
                    f"{name} slot {slot['slot']}: by {slot['by']}, velocity {slot['velocity']}"
                )
            if slot["by"] == "note":
                onsets.append((slot["onset_s"], slot["string"]))
    extras = [extra for rep in told["reps"] for extra in rep["extras"]] + told["outside"]
    if any(not set(extra) >= EXTRA_KEYS for extra in extras):
        found.append("score: an extra without all keys of the format")
    onsets += [
        (extra["onset_s"], extra["string"]) for extra in extras if extra["velocity"] is not None
    ]
    sounded = Counter(
        (round(note.onset_s, 6), note.string) for note in take.truth.notes if note.by == "note"
    )
    if Counter(onsets) != sounded:
        found.append(f"score: {len(onsets)} notes told, {sum(sounded.values())} sounded")
    found += _misplaced(told)
    wrong = {
        key: told["totals"].get(key) for key in told["totals"] if told["totals"][key] != sums[key]
    }
    if wrong:
        found.append(f"score: totals {wrong}, counted { ({key: sums[key] for key in wrong}) }")
    return found


def _misplaced(told: dict) -> list[str]:
    """Extras in another place than the rule gives them: the repetition with the latest ``start_s``
    not after them, but outside where they lie more than a beat after its end."""
    found: list[str] = []
    reps = told["reps"]
    starts = [rep["start_s"] for rep in reps]
    placed = [(extra["onset_s"], rep["rep"]) for rep in reps for extra in rep["extras"]]
    placed += [(extra["onset_s"], None) for extra in told["outside"]]
    for onset_s, rep in placed:
        at = bisect_right(starts, onset_s) - 1
        if at < 0:
            if rep is not None:
                found.append(f"score: an extra at {onset_s} in rep {rep}, which begins {starts[0]}")
            continue
        own = reps[at]
        after_s = onset_s - own["end_s"]
        beat_s = None if own["tempo_bpm"] is None else 60.0 / own["tempo_bpm"]
        if rep is None:
            if beat_s is not None and after_s <= beat_s - _ROUNDING_S:
                found.append(
                    f"score: {onset_s} outside, {1e3 * (after_s - beat_s):.1f} ms from a beat "
                    f"after rep {own['rep']}"
                )
        elif rep != own["rep"]:
            next_s = min(abs(start_s - onset_s) for start_s in starts)
            found.append(
                f"score: {onset_s} in rep {rep}, not {own['rep']}: {1e3 * next_s:.1f} ms from a "
                "start"
            )
        elif beat_s is not None and after_s > beat_s + _ROUNDING_S:
            found.append(
                f"score: {onset_s} in rep {rep}, {1e3 * (after_s - beat_s):.1f} ms more than a "
                "beat after it"
            )
    return found
