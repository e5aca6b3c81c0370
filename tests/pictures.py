"""The pictures of README and the manual, made from what the demo plays.

    python tests/pictures.py

writes them anew: run it when the product looks different. ``test_pictures.py`` says when that is.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

from livecheck.console.feed import Feed
from livecheck.console.footer import KEYS, SELDOM
from livecheck.console.lines import piece
from livecheck.console.model import Model
from livecheck.console.picture import picture, picture_of
from livecheck.core.events import Link, Record, Stop, UseCells, UseRig
from livecheck.core.playing import BUILT_IN
from livecheck.files.index import played_in
from livecheck.measures.review.answers import Review, make_review
from livecheck.measures.review.packed import joined
from livecheck.player.demo import demo_take
from livecheck.report.page import STYLE, page
from livecheck.report.review_text import review_lines
from livecheck.session import Session

PLACE = Path(__file__).resolve().parents[1] / ".docs"
MINUTE_S, SITTING_S, SITTINGS = 60.0, 150.0, 2
WIDTH = 80
TITLE = "livecheck demo"


def records(seconds: float, seed: int) -> list[Record]:
    """What a session of the demo holds."""
    take = demo_take(seconds=seconds, seed=seed)
    head = [UseRig(0.0, take.rig), UseCells(0.0, (take.cell,)), Link(0.0, True, BUILT_IN)]
    return [*head, *take.records, Stop(take.records[-1].t_s + 1.0, "the take is over")]


def model_at(end_s: float) -> Model:
    """The screen's model some seconds after a demo began."""
    feed = Feed(Session(), Model())
    feed.take([record for record in records(MINUTE_S, 1) if record.t_s <= end_s])
    feed.model.keys = KEYS + SELDOM
    return feed.model


def review() -> Review:
    """The review of two longer ones."""
    played = [played_in(records(SITTING_S, seed))[0][0] for seed in range(1, SITTINGS + 1)]
    table = joined([one.table for one in played], list(range(SITTINGS)), [0] * SITTINGS)
    return make_review(table, played[0].cell, played[0].grid, played[0].variant)


def chart_of(html: str) -> str:
    """The first picture of a page, by itself."""
    found = re.search(r"<svg (.*?)</svg>", html, re.DOTALL)
    assert found is not None
    name = 'xmlns="http://www.w3.org/2000/svg" '
    head, _, rest = found[0].partition(">")
    return (
        f"{head.replace('<svg ', f'<svg {name}')}>"
        f"<style>{STYLE}svg{{background:var(--paper)}}</style>{rest}\n"
    )


def pictures() -> dict[str, str]:
    """SVG texts by the names of their files."""
    model, found = model_at(41.0), review()
    lines = review_lines(found, WIDTH)
    return {
        "console.svg": picture(model, 110, 32, title=TITLE),
        "far.svg": picture(model, WIDTH, 24, far=True, title=TITLE),
        "review.svg": picture_of([[piece(line)] for line in lines], WIDTH, "livecheck review"),
        "page.svg": chart_of(page(found, "the built-in player")),
    }


def main() -> int:
    for name, text in pictures().items():
        (PLACE / name).write_text(text, "utf-8")
        print(PLACE / name)
    return 0


if __name__ == "__main__":
    sys.exit(main())
