"""The practice folder: where cells, rigs and recordings are, and which sessions there are.

A practice folder is one that holds ``configs/cells/`` or ``recordings/``. A session is a folder
under ``recordings/`` named by the time it began. What a list needs to know of a session is kept
beside it in ``summary.json``: only a cache, rebuilt whenever the journal's size or time or the
program's version is another, and never needed.
"""

from __future__ import annotations

import contextlib
import difflib
import os
import re
import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from ..errors import BadInput
from .lines import journal_files
from .summary import SessionInfo, has_notes, is_demo, summary_of

DEFAULT_NAME = "livecheck"  # under the user's home
HOME_VARIABLE = "LIVECHECK_HOME"
SALVAGED = "-salvaged"  # ends the name of what was saved of a damaged session
_INSTALLED = Path(__file__).resolve().parents[1] / "examples"
SHIPPED = _INSTALLED if _INSTALLED.is_dir() else Path(__file__).resolve().parents[2] / "configs"
"""The cells and rigs that come with the program: inside an installed one, or beside it in a source
checkout."""

_STARTED = re.compile(r"(\d{4}-\d\d-\d\d)T(\d\d):(\d\d):(\d\d)")

CountTakes = Callable[[Path], int]


@dataclass(frozen=True, slots=True)
class PracticeFolder:
    """One player's cells, rigs and recordings."""

    root: Path

    @classmethod
    def find(
        cls,
        home: str | None = None,
        *,
        make: bool = True,
        current: Path | None = None,
        environment: Mapping[str, str] | None = None,
        user_home: Path | None = None,
    ) -> PracticeFolder:
        """The folder that commands work in.

        In this order: ``home`` (asked for on the command line; made where it does not exist), the
        current folder when it is a practice folder, the one named by LIVECHECK_HOME, ``livecheck``
        under the user's home. The last two are made on first use; none is where ``make`` is False.
        Raises BadInput where a folder cannot be made.
        """
        made = cls._made if make else cls
        current = current or Path.cwd()
        environment = os.environ if environment is None else environment
        if home:
            return made(Path(home).expanduser())
        if is_practice_folder(current):
            return cls(current)
        named = environment.get(HOME_VARIABLE)
        if named:
            return made(Path(named).expanduser())
        return made((user_home or Path.home()) / DEFAULT_NAME)

    @classmethod
    def _made(cls, root: Path) -> PracticeFolder:
        """Make what is missing; a new folder gets the cells and rigs that come with the program,
        where they do."""
        folder = cls(root)
        try:
            new = not root.exists()
            for part in (folder.cells, folder.rigs, folder.recordings):
                part.mkdir(mode=0o700, parents=True, exist_ok=True)
            if new and SHIPPED.is_dir():
                shutil.copytree(SHIPPED, root / "configs", dirs_exist_ok=True)
        except OSError as error:
            raise BadInput(
                f"{root}: cannot be used as practice folder: {error.strerror or error}"
            ) from error
        return folder

    @property
    def cells(self) -> Path:
        return self.root / "configs" / "cells"

    @property
    def rigs(self) -> Path:
        return self.root / "configs" / "rigs"

    @property
    def settings(self) -> Path:
        """The file of the player's settings; it need not be there."""
        return self.root / "configs" / "settings.yaml"

    @property
    def recordings(self) -> Path:
        return self.root / "recordings"

    def session_paths(self) -> list[Path]:
        """Folders that hold a journal, oldest first."""
        try:
            folders = [path for path in self.recordings.iterdir() if path.is_dir()]
        except OSError:
            return []
        return sorted(path for path in folders if journal_files(path))

    def own_paths(self) -> list[Path]:
        """Those of the sessions that the player played, and not the demo's built-in one, oldest
        first."""
        return [path for path in self.session_paths() if not is_demo(path)]

    def sessions(self, count_takes: CountTakes | None = None) -> list[SessionInfo]:
        """What there is to know of each session, oldest first.

        ``count_takes`` judges a session; without it ``takes`` is None where no summary has it yet.
        A session that cannot be read at all (a newer program's) is left out.
        """
        found = []
        for path in self.session_paths():
            try:
                found.append(summary_of(path, count_takes))
            except BadInput:
                continue
        return found

    def played_s(self, day: str, but: str | None = None) -> float:
        """Seconds played in the sessions that began on a day (YYYY-MM-DD), the one named ``but``
        and demos left out."""
        played_s = 0.0
        for path in self.session_paths():
            if path.name.startswith(day) and path.name != but and not path.name.endswith(SALVAGED):
                with contextlib.suppress(BadInput):
                    info = summary_of(path)
                    played_s += 0.0 if info.demo else info.played_s
        return played_s

    def session(self, name: str) -> Path:
        """The session folder meant by a name, the beginning of one that fits no other, ``last``, or
        a path.

        ``last`` is the last one in which a note sounded: one that has just begun to be recorded
        holds nothing to show. Raises BadInput that lists what is near.
        """
        given = Path(name).expanduser()
        if journal_files(given):
            return given
        paths = self.session_paths()
        if name == "last" and paths:
            return next((path for path in reversed(paths) if has_notes(path)), paths[-1])
        names = [path.name for path in paths]
        fitting = [path for path in paths if path.name.startswith(name)] if name else []
        exact = [path for path in fitting if path.name == name]
        if len(exact or fitting) == 1:
            return (exact or fitting)[0]
        if fitting:
            raise BadInput(
                f"session {name!r} may mean {listed([path.name for path in fitting])}; write more "
                "of it"
            )
        if not names:
            raise BadInput(f"no session {name!r}: {self.recordings} holds none yet")
        near = difflib.get_close_matches(name, names, n=3, cutoff=0.5) or names[-3:]
        raise BadInput(f"no session {name!r} in {self.recordings}; there is {listed(near)}")

    def new_session(self, wall: str) -> Path:
        """A folder for the session that begins at a time (ISO 8601), made for this user alone;
        ``-2`` if taken.

        Raises BadInput where it cannot be made.
        """
        found = _STARTED.match(wall)
        if not found:
            raise ValueError(f"{wall!r} is no ISO time")
        name = "{}T{}-{}-{}".format(*found.groups())
        number = 1
        while True:
            path = self.recordings / (name if number == 1 else f"{name}-{number}")
            try:
                self.recordings.mkdir(mode=0o700, parents=True, exist_ok=True)
                path.mkdir(mode=0o700)
            except FileExistsError:
                number += 1
                if not self.recordings.is_dir():
                    raise BadInput(
                        f"{self.recordings}: is no folder; sessions are kept there"
                    ) from None
            except OSError as error:
                raise BadInput(f"{path}: cannot be made: {error.strerror or error}") from error
            else:
                return path


def is_practice_folder(path: Path) -> bool:
    """True for a folder that holds configs/cells/ or recordings/."""
    return (path / "configs" / "cells").is_dir() or (path / "recordings").is_dir()


def listed(names: list[str], most: int = 5) -> str:
    """Names in a row, the rest only counted.

    >>> listed(["a", "b", "c"], most=2)
    'a, b and 1 more'
    """
    shown = ", ".join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"
