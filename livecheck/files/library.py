"""The practice folder: where cells, rigs and recordings are, and which sessions there are.

A practice folder is one that holds ``configs/cells/`` or ``recordings/``. A session is a folder
under ``recordings/`` named by the time it began, on the clock that the player saw; sessions are in
the order of universal time. One that cannot be read stays in every list, and stops nothing.
"""

from __future__ import annotations

import contextlib
import difflib
import os
import re
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from ..errors import BadInput
from .atomic import sync_folder
from .lines import ordered
from .ordinary import FOLDER, kind_of, names_in
from .paths import home_folder, path_of
from .summary import SessionInfo, began, has_notes, is_demo, summary_of, unread

DEFAULT_NAME = "livecheck"  # under the user's home
HOME_VARIABLE = "LIVECHECK_HOME"
SALVAGED = "-salvaged"  # ends the name of what was saved of a damaged session
_INSTALLED = Path(__file__).resolve().parents[1] / "examples"
SHIPPED = _INSTALLED if _INSTALLED.is_dir() else Path(__file__).resolve().parents[2] / "configs"
"""The cells and rigs that come with the program: inside an installed one, or beside it in a source
checkout."""

_STARTED = re.compile(r"(\d{4}-\d\d-\d\d)T(\d\d):(\d\d):(\d\d)")
_NAMED = re.compile(r"\d{4}-\d\d-\d\dT\d\d-\d\d-\d\d")  # begins the name of a session


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
            return made(path_of(home))
        if is_practice_folder(current):
            return cls(current)
        named = environment.get(HOME_VARIABLE)
        if named:
            return made(path_of(named))
        return made((user_home or home_folder()) / DEFAULT_NAME)

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
            if new:
                sync_folder(root)
                sync_folder(root.parent)
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
        """Folders that hold a journal, and whatever has a session's name and cannot be looked into,
        oldest first.

        Raises BadInput where ``recordings`` itself cannot be read.
        """
        names = [name for name in names_in(self.recordings) if not name.startswith(".")]
        paths = [self.recordings / name for name in names]
        found = sorted((began(path), path) for path in paths if _is_session(path))
        return [path for _, path in found]

    def own_paths(self) -> list[Path]:
        """Those of the sessions that the player played, and not the demo's built-in one, oldest
        first."""
        return [path for path in self.session_paths() if not is_demo(path)]

    def sessions(self) -> list[SessionInfo]:
        """What there is to know of each session without judging it, oldest first; of one that
        cannot be read, why."""
        found = []
        for path in self.session_paths():
            try:
                found.append(summary_of(path))
            except BadInput as error:
                found.append(unread(path, error))
        return found

    def played_s(self, day: str, but: str | None = None) -> float:
        """Seconds played in the sessions that began on a day (YYYY-MM-DD), the one named ``but``
        and demos left out, and what cannot be read. Raises nothing: practice does not depend on
        what was played before."""
        played_s = 0.0
        names: list[str] = []
        with contextlib.suppress(BadInput):
            names = names_in(self.recordings)
        for name in names:
            if name.startswith(day) and name != but and not name.endswith(SALVAGED):
                with contextlib.suppress(BadInput):
                    info = summary_of(self.recordings / name)
                    played_s += 0.0 if info.demo else info.played_s
        return played_s

    def session(self, name: str) -> Path:
        """The session folder meant by a name, the beginning of one that fits no other, ``last``, or
        a path.

        ``last`` is the last one in which a note sounded: one that has just begun to be recorded
        holds nothing to show. Raises BadInput that lists what is near; for ``last`` also where it
        cannot be found out, since a later session cannot be read.
        """
        given = path_of(name)
        if kind_of(given) is not None and (len(given.parts) > 1 or _is_session(given)):
            return given
        paths = self.session_paths()
        if name == "last" and paths:
            return self._last(paths)
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

    def _last(self, paths: list[Path]) -> Path:
        for path in reversed(paths):
            try:
                if has_notes(path):
                    return path
            except BadInput as error:
                raise BadInput(
                    f"the last session, {path.name}, cannot be shown; name another one "
                    f"(`livecheck sessions`): {error}"
                ) from error
        return paths[-1]

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


def _is_session(path: Path) -> bool:
    """Whether a folder holds a journal; also of one that cannot be looked into, by its name."""
    try:
        if kind_of(path) == FOLDER:
            return bool(ordered(path, names_in(path)))
    except BadInput:
        pass
    return _NAMED.match(path.name) is not None


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
