"""Draw the manual's picture of the console from the demo: ``python .docs/screenshot.py``."""

from __future__ import annotations

from pathlib import Path

from livecheck.console.feed import Feed
from livecheck.console.model import Model
from livecheck.console.picture import picture
from livecheck.core.events import Link, Record, UseCells, UseRig
from livecheck.player.demo import demo_take
from livecheck.session import Session

AT_S = 44.0  # of the demo's minute: fast enough for faults
WIDTH, HEIGHT = 110, 32


def main() -> None:
    take = demo_take(seconds=60.0)
    feed = Feed(Session(), Model())
    start: list[Record] = [
        UseRig(0.0, take.rig),
        UseCells(0.0, (take.cell,)),
        Link(0.0, True, "built-in player"),
    ]
    feed.take(start)
    feed.take(record for record in take.records if record.t_s <= AT_S)
    feed.tick(AT_S)
    text = picture(feed.model, WIDTH, HEIGHT, title="livecheck demo")
    Path(__file__).with_name("console.svg").write_text(text, "utf-8")


if __name__ == "__main__":
    main()
