"""A switch put into a settings file that somebody wrote, whose text stays as it is otherwise.

What came out is read again: it must be the same settings with this switch, else nothing is written.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

from ..core.hands import Mapped, written
from ..errors import BadInput
from .config import settings_of_text, text_of
from .settingsfile import Settings
from .textfile import put_text


def put_pedal(path: Path, mapped: Mapped, port: str | None) -> Settings:
    """Let a switch ask for its action from now on; returns the settings as they are then.

    port: the pedal's own, None where it comes with the guitar. Raises BadInput where that cannot be
    written.
    """
    text = text_of(path) if path.exists() else ""
    before = settings_of_text(text, str(path)) if text.strip() else Settings()
    others = tuple(one for one in before.pedals if one[:2] != mapped[:2])
    wanted = replace(before, pedals=(*others, mapped), pedal_port=port or before.pedal_port)
    edited = _with_switch(text, written(mapped), mapped[2])
    if port is not None and port != before.pedal_port:
        edited = _with_port(edited, port)
    try:
        after = settings_of_text(edited, str(path))
    except BadInput:
        after = None
    if after is None or replace(after, pedals=_sorted(after)) != replace(
        wanted, pedals=_sorted(wanted)
    ):
        raise BadInput(
            f"{path}: the switch cannot be put in without touching the rest; add it by hand: "
            f"`{written(mapped)}: {mapped[2]}` under `pedals:`"
        )
    put_text(path, edited)
    return after


def _sorted(settings: Settings) -> tuple[Mapped, ...]:
    return tuple(sorted(settings.pedals, key=written))


def _with_switch(text: str, switch: str, action: str) -> str:
    """The line of the switch under ``pedals:``, in the place of the one that may be there.

    >>> _with_switch("rest: 25\\n", "control 64", "up")
    'rest: 25\\npedals:\\n  control 64: up\\n'
    """
    lines = text.splitlines()
    spaced = r"\s+".join(map(re.escape, switch.split()))
    same = re.compile(rf"\s+{spaced}\s*:\s*[-\w]+(\s+#.*|\s*)$")
    kept = [line for line in lines if not same.match(line)]
    at = next((at for at, line in enumerate(kept) if re.match(r"pedals\s*:\s*(#.*)?$", line)), None)
    if at is None:
        kept += ["pedals:", f"  {switch}: {action}"]
    else:
        under = kept[at + 1] if at + 1 < len(kept) else ""
        margin = re.match(r"[ \t]+(?=\S)", under)
        kept.insert(at + 1, f"{margin[0] if margin else '  '}{switch}: {action}")
    return "\n".join(kept) + "\n"


def _with_port(text: str, port: str) -> str:
    """The line of the pedal's port, in the place of the one that may be there."""
    lines = [line for line in text.splitlines() if not re.match(r"pedal_port\s*:", line)]
    return "\n".join([*lines, f"pedal_port: {json.dumps(port, ensure_ascii=False)}"]) + "\n"
