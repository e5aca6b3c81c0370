"""Signs and colours of the screen, each defined once.

A verdict is told by its shape first; colour only repeats it: a full block, an empty place, a sign
of inequality, none of which means something else in a chord diagram, in tablature or as a stroke.
The hues keep apart for colour-blind eyes and have a middle lightness, so that they read on a dark
and on a light ground (after Okabe & Ito's set, darkened where needed). Where the terminal cannot
show a sign there is a plain one.
"""

from __future__ import annotations

from dataclasses import dataclass

from rich.style import Style

from ..core.events import HIT, MISSED, WRONG
from ..report.tablature import ASCII_SYMBOLS, SYMBOLS


@dataclass(frozen=True, slots=True)
class Signs:
    """One set of signs; each is one column wide."""

    hit: str
    wrong: str
    missed: str
    pending: str
    struck: str  # it sounded, and what becomes of it is not certain yet
    down: str
    up: str
    uneven: str  # unevenness that can be heard
    early: str
    late: str
    rule: str
    upright: str
    band: str  # too little to be noticed
    span: str  # an interval
    mean: str
    times: str
    dash: str
    dot: str
    bar: str
    more: str  # something was cut off
    blocks: bool  # half and full blocks can be shown

    def verdict(self, verdict: str | None) -> str:
        """Sign of a verdict; None is pending."""
        return {HIT: self.hit, WRONG: self.wrong, MISSED: self.missed}.get(
            verdict or "", self.pending
        )

    def stroke(self, stroke: str) -> str:
        """Sign of a stroke: pick strokes as in notation, the others by their first letter."""
        return {"down": self.down, "up": self.up}.get(stroke, stroke[0])


_PICK = {way: SYMBOLS[way] for way in ("down", "up")}
_ASCII_PICK = {way: ASCII_SYMBOLS[way] for way in ("down", "up")}

FULL = Signs(
    hit="■", wrong="≠", missed="_", pending="·", struck="▪", **_PICK, uneven="~", early="◂",
    late="▸", rule="─", upright="│", band="╌", span="━", mean="◆", times="×", dash="–", dot="·",
    bar="▬", more="…", blocks=True,
)  # fmt: skip
PLAIN = Signs(
    hit="#", wrong="!", missed="_", pending=".", struck="+", **_ASCII_PICK, uneven="~", early="<",
    late=">", rule="-", upright="|", band="-", span="=", mean="#", times="x", dash="-", dot=".",
    bar="#", more="~", blocks=False,
)  # fmt: skip


def signs_for(encoding: str | None, term: str | None = None) -> Signs:
    """The full set where the terminal's encoding (and its font, as far as that is known) can show
    it.

    The Linux console's own font holds 256 signs and lacks several of ours.
    """
    if term == "linux":
        return PLAIN
    try:
        "".join(str(getattr(FULL, name)) for name in FULL.__slots__).encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return PLAIN
    return FULL


NORMAL = Style.null()
FAINT = Style(dim=True)
STRONG = Style(bold=True)
GOOD = Style(color="#3d8fc4")
MISS = Style(color="#d55e00", bold=True)
SLIP = Style(color="#b8860b", bold=True)
NOISY = Style(color="#b565a7", bold=True)
ALARM = Style(color="#d55e00", bold=True, reverse=True)

VERDICT_STYLES = {HIT: GOOD, WRONG: SLIP, MISSED: MISS}

GROUND, INK = "#16181a", "#d6d4ce"
"""Colours of exported pictures where the terminal's own would stand."""
