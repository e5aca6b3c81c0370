"""Which changed numbers of the matcher the quick guard notices.

    python tests/benchmarks/bench_matcher_guard.py

The guard (``tests/core/test_match_guard.py``) judges a fixed set of takes in a second or two and
holds the shares to floors. Here one number of the matcher after another is changed in a copy of the
package, and what the guard then says is printed: a table for .docs/accuracy.md.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

MUTATIONS = [
    ("a missed slot ten times as dear", "odds", r"^MISS = .*", "MISS = -log(0.002)"),
    ("a missed slot ten times as cheap", "odds", r"^MISS = .*", "MISS = -log(0.2)"),
    ("a wrong fret ten times as dear", "odds", r"^WRONG_FRET = .*", "WRONG_FRET = -log(0.002)"),
    ("stumbles twice as wide", "odds", r"_TAIL_WIDTH = 0.06, 4.0", "_TAIL_WIDTH = 0.06, 8.0"),
    ("no stumbles", "odds", r"_TAIL_WIDTH = 0.06, 4.0", "_TAIL_WIDTH = 1e-6, 4.0"),
    ("bad timing may cost twice as much", "odds", r"^FAR = .*", "FAR = 15.0"),
    ("bad timing may cost half as much", "odds", r"^FAR = .*", "FAR = 3.7"),
    ("an extra ten times as dear", "odds", r"^EXTRA = .*", "EXTRA = -log(0.035 / PITCHES)"),
    ("a restart ten times as dear", "odds", r"^RESTART = .*", "RESTART = -log(0.0006)"),
    ("leaving play twice as dear", "odds", r"^EXIT = .*", "EXIT = 10.0"),
    ("leaving play half as dear", "odds", r"^EXIT = .*", "EXIT = 2.5"),
    ("entering play half as dear", "odds", r"^ENTRY_FIRST, .*",
     "ENTRY_FIRST, ENTRY_LATER = 3.2, 4.2"),
    ("entering play twice as dear", "odds", r"^ENTRY_FIRST, .*",
     "ENTRY_FIRST, ENTRY_LATER = 13.0, 17.0"),
    ("a stop ten times as dear", "odds", r"^PAUSE = .*", "PAUSE = -log(0.0004) + 0.3"),
    ("readings dropped at half the distance", "odds", r"^BOUND = .*", "BOUND = 4.6"),
    ("a steady spread", "odds", r"_FIRST_FACTOR = 0.6, 4.0", "_FIRST_FACTOR = 0.6, 1.0"),
    ("slots' habits are not learned", "odds", r"^_HABIT_RATE = .*", "_HABIT_RATE = 0.0"),
    ("the tempo follows twice as fast", "match", r"^_STEADY = _Follow\(0.45, 0.10",
     "_STEADY = _Follow(0.9, 0.2"),
    ("the tempo does not follow", "match", r"^_STEADY = _Follow\(0.45, 0.10",
     "_STEADY = _Follow(0.45, 0.0"),
    ("told one slot later at the latest", "match", r"^LATEST_SLOTS = 3", "LATEST_SLOTS = 1"),
    ("told nine slots later at the latest", "match", r"^LATEST_SLOTS = 3", "LATEST_SLOTS = 9"),
    ("silence after twice as long", "match", r"^SILENCE_S = .*", "SILENCE_S = 0.96"),
]  # fmt: skip
"""What is changed, in which module of core/, and how."""


def main() -> None:
    guard = ROOT / "tests" / "core" / "test_match_guard.py"
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "livecheck"
        for name, module, pattern, instead in [("nothing", "odds", "", ""), *MUTATIONS]:
            shutil.rmtree(copy, ignore_errors=True)
            shutil.copytree(ROOT / "livecheck", copy)
            path = copy / "core" / f"{module}.py"
            text, count = re.subn(pattern, instead, path.read_text("utf-8"), flags=re.MULTILINE)
            if pattern:
                assert count == 1, f"{name}: {pattern!r} stands {count} times in {path.name}"
                path.write_text(text, "utf-8")
            done = subprocess.run(
                [sys.executable, str(guard)],
                capture_output=True,
                text=True,
                cwd=folder,
                env={"PYTHONPATH": folder, "PATH": ""},
            )
            said = done.stdout.strip() or done.stderr.strip().splitlines()[-1]
            print(f"| {name} | {said} |", flush=True)


if __name__ == "__main__":
    main()
