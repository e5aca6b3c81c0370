"""The wings' opening pages: what they compute as an example comes out."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest
from conftest import ROOT

WINGS = sorted(
    path.parent.name
    for path in (ROOT / "livecheck" / "measures").glob("*/__init__.py")
    if path.parent.name != "__pycache__"
)


@pytest.mark.parametrize("wing", WINGS)
def test_a_wing_opens_with_its_theory(wing: str) -> None:
    """Each says what to call, the theory, the assumptions, an example that is true, and the
    sources; every module that it names is there."""
    face = importlib.import_module(f"livecheck.measures.{wing}")
    text = face.__doc__ or ""
    for part in ("**To call.**", "**Theory", "**Assumptions.**", "**Example.**", "**Sources.**"):
        assert part in text, f"{wing} says nothing under {part}"
    tried = doctest.testmod(face)
    assert tried.attempted > 0 and tried.failed == 0


def test_wings_do_not_lean_on_each_other_in_a_circle() -> None:
    """strokes ← {delay, noise} ← review ← {climb, ways} ← agenda; learn stands alone."""
    allowed: dict[str, set[str]] = {"learn": set(), "strokes": set(), "delay": {"strokes"}}
    allowed["noise"] = {"strokes"}
    allowed["review"] = {"noise", "strokes", "delay"}
    allowed["climb"] = allowed["ways"] = {"review", *allowed["review"]}
    allowed["agenda"] = {"climb", "ways", *allowed["climb"]}
    assert sorted(allowed) == WINGS
    for wing, others in allowed.items():
        for path in (ROOT / "livecheck" / "measures" / wing).glob("*.py"):
            text = Path(path).read_text("utf-8")
            for other in {*WINGS} - others - {wing}:
                assert f"from ..{other}" not in text, f"{path.name} imports {other}"
