"""How a rig file is written: shown first, on the player's yes, whole or not at all, the old one
kept."""

from __future__ import annotations

import sys
from argparse import Namespace
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from ..core.rig import Rig
from ..errors import BadInput
from ..files.config import LARGEST_BYTES, dump_rig
from ..files.ordinary import contents
from ..files.textfile import put_bytes, put_text
from .choice import Choice, own_rig_path
from .common import near_path, new_file


@dataclass(frozen=True, slots=True, kw_only=True)
class Writing:
    """Where a rig goes, and whether that was agreed to beforehand."""

    path: Path
    agreed: bool

    @classmethod
    def of(cls, options: Namespace, choice: Choice) -> Writing:
        """What was typed: a file that is named is agreed to."""
        path = new_file(options.out, "rig.yaml") if options.out else own_rig_path(choice)
        return cls(path=path, agreed=options.write or options.out is not None)


def write_rig(path: Path, rig: Rig, out: TextIO) -> None:
    """Write a rig file whole or not at all. A file that is there is kept beside it, and that is
    said.

    Raises BadInput where it cannot be written.
    """
    try:
        kept = _keep(path)
    except OSError as error:
        raise BadInput(f"{path}: cannot be kept: {error.strerror or error}") from error
    put_text(path, dump_rig(rig))
    print(
        f"Written to {near_path(path)}"
        + (f"; what stood there is now {near_path(kept)}" if kept else ""),
        file=out,
    )


def _keep(path: Path) -> Path | None:
    """Put a file that is about to be replaced beside it, under the first free name."""
    if not path.exists():
        return None
    number = 1
    while (kept := path.with_name(f"{path.stem}-before-{number}{path.suffix}")).exists():
        number += 1
    put_bytes(kept, contents(path, LARGEST_BYTES, follow=True))
    return kept


def agreed(writing: Writing, out: TextIO) -> bool:
    """Whether a rig that was shown is to be written: agreed to beforehand, or by the player's yes
    at a terminal."""
    if writing.agreed:
        return True
    if not (out.isatty() and sys.stdin.isatty()):
        print("Not written; --write writes it.", file=out)
        return False
    path = writing.path
    question = f"Replace {near_path(path)}?" if path.exists() else f"Write it to {near_path(path)}?"
    print(f"{question} [y/N] ", end="", file=out, flush=True)
    if sys.stdin.readline().strip().lower() in ("y", "yes"):
        return True
    print("Not written.", file=out)
    return False
