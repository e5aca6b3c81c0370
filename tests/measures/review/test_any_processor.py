"""A practice says the same on every machine.

The library of arrays takes other instructions on other processors, and its logarithms then differ
in the last digit; what is drawn must not hang on it.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys

import numpy as np
import pytest
from conftest import ROOT

TOLD = """
import json
import numpy as np
from practices import practised, random_plan
from livecheck.measures.review.answers import make_review
told = []
for seed, planted in enumerate((("one day",), ("ladder", "one day", "step"), ("progress",))):
    rng = np.random.default_rng(seed + 40)
    one = make_review(practised(rng, random_plan(rng, *planted)).tries, "six")
    told += [[part.status, part.bpm, part.low_bpm, part.high_bpm]
             for part in (one.secure, one.broken)]
print(json.dumps(told))
"""


def dispatched() -> list[str]:
    """Instructions that this processor has beyond what the library needs."""
    found = np.show_config(mode="dicts")["SIMD Extensions"]["found"]  # type: ignore[index, call-overload]
    return [str(name) for name in found]


def told(without: list[str]) -> list[list[object]]:
    environment = {
        **os.environ, "NPY_DISABLE_CPU_FEATURES": " ".join(without),
        "PYTHONPATH": os.pathsep.join([str(ROOT), str(ROOT / "tests")]),
    }  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", TOLD],
        env=environment, capture_output=True, text=True, check=True,
    )  # fmt: skip
    return json.loads(done.stdout)  # type: ignore[no-any-return]


def test_other_instructions_change_no_figure():
    """Secure and break with their intervals, of one day, a step and several days."""
    wide = [name for name in dispatched() if name.startswith(("X86_V4", "AVX512"))]
    if not wide:
        pytest.skip("this processor has but one way of taking logarithms")
    for plain, other in zip(told([]), told(wide), strict=True):
        assert other[0] == plain[0]
        assert other[1:] == pytest.approx(plain[1:], rel=1e-6)
