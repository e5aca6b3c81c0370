"""The program: read the arguments, run one command, turn trouble into one line and an exit status.

``main`` is the only place where errors end. Exit status: 0 done, 2 bad input, 3 no device, 1 a
fault of ours.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import sys
import tempfile
import traceback
from collections.abc import Sequence
from datetime import datetime
from importlib import import_module
from pathlib import Path
from typing import Any, NoReturn, TextIO

from . import __version__
from .commands import resolve
from .commands.arguments import GROUPS
from .errors import BadInput, LivecheckError
from .files.near import near_names
from .files.own import open_own
from .report.outlet import outlet, print_text

FAULTS = "fault.log"
FAULTS_BYTES = 256 << 10  # then the log is begun anew
AFTER = {"--home": "--home DIR", "--json": "--json"}  # options of the commands, not of the program
INTERRUPTED = 130  # what shells expect after Ctrl-C
RENAMED = {
    "livecheck doctor": "livecheck check",
    "livecheck profile": "livecheck notes",
    "livecheck rig delay": "livecheck rig latency",
    "livecheck rig gates": "livecheck rig threshold",
    "livecheck rig latency --save": "--out",
    "livecheck rig threshold --save": "--out",
}
"""Commands and options that had another name once, with the one they have now."""

ABOUT = (
    "Hears a few guitar notes, looped, string by string, says after each repetition what "
    "happened, and keeps every session. "
    "Try `livecheck demo`: it needs no guitar."
)


def main(
    argv: Sequence[str] | None = None, out: TextIO | None = None, err: TextIO | None = None
) -> int:
    """Run one command and return the exit status. Nothing is raised."""
    out, err = out or sys.stdout, err or sys.stderr
    for stream in (out, err):
        # a name that the terminal cannot show is no reason to fail
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    out, err = outlet(out), outlet(err)
    options = argparse.Namespace()
    try:
        status = _run(sys.argv[1:] if argv is None else argv, options, out, err)
        out.flush()
        return status
    except LivecheckError as error:
        _say(err, str(error))
        return error.exit_status
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:  # whoever read our output has seen enough
        _give_up(out)
        return 0
    except Exception as error:
        if isinstance(error, OSError) and (why := _unwritable(out)) is not None:
            _say(err, f"the output could not be written: {why}")
            return BadInput.exit_status
        _say(err, _kept_fault(getattr(options, "home", None)))
        return 1


def _run(argv: Sequence[str], options: argparse.Namespace, out: TextIO, err: TextIO) -> int:
    if any("\0" in word for word in argv):
        raise BadInput("an argument holds a NUL character, which no name can")
    if argv and argv[0].startswith("-") and (option := argv[0].partition("=")[0]) in AFTER:
        raise BadInput(
            f"put {option} after the command, as in `livecheck sessions {AFTER[option]}`"
        )
    program = parser()
    if "_ARGCOMPLETE" in os.environ:  # the shell asks what may follow
        resolve("completion:complete")(program)
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            _, unknown = program.parse_known_args(argv, options)
        except SystemExit:  # the help or the version was asked for
            return 0
    if unknown:
        raise BadInput(options.parser.unknown(unknown[0]))
    if options.run is None:  # a word that only heads commands, or none at all
        print_text(options.parser.format_help(), out)
        return 0
    status: int = resolve(options.run)(options, out, err)
    return status


def parser() -> argparse.ArgumentParser:
    """The parser with all commands."""
    program = Parser(prog="livecheck", description=ABOUT, allow_abbrev=False)
    program.add_argument("--version", action="version", version=f"livecheck {__version__}")
    program.set_defaults(home=None, json=False, run=None, parser=program)
    commands = program.add_subparsers(title="commands", metavar="COMMAND", parser_class=Parser)
    for group in GROUPS:
        import_module(f".commands.arguments.{group}", __package__).register(commands)
    return program


class Parser(argparse.ArgumentParser):
    """An argument parser whose mistakes are ours: one line, the nearest right word, and where the
    help is."""

    def _print_message(self, message: str, file: Any = None) -> None:
        print_text(message, file or sys.stderr)

    def error(self, message: str) -> NoReturn:
        raise BadInput(f"{message.replace(chr(10), ' ')}; see `{self.prog} --help`")

    def unknown(self, word: str) -> str:
        """What to say of an argument that no option or place takes."""
        if not word.startswith("-"):
            return f"{word!r} is one argument too many; see `{self.prog} --help`"
        option = word.partition("=")[0]
        if (now := RENAMED.get(f"{self.prog} {option}")) is not None:
            return f"{option} is called {now} now"
        known = [
            name
            for action in self._actions
            for name in action.option_strings
            if name.startswith("--")
        ]
        return f"{self._has_no} option {option}; {nearest(option, known)}"

    @property
    def _has_no(self) -> str:
        """The lines of errors begin with the program's name already."""
        command = self.prog.partition(" ")[2]
        return f"`{command}` has no" if command else "there is no"

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        if action.choices is None or value in action.choices:
            return
        if (now := RENAMED.get(f"{self.prog} {value}")) is not None:
            raise BadInput(f"`{self.prog} {value}` is called `{now}` now")
        what = "command" if isinstance(action, argparse._SubParsersAction) else "value"
        raise BadInput(
            f"{self._has_no} {what} {str(value)!r}; {nearest(str(value), list(action.choices))}"
        )


def nearest(word: str, known: list[str]) -> str:
    """What was probably meant, or what there is."""
    near = near_names(word, known, most=2)
    return f"did you mean {' or '.join(near)}?" if near else f"there is: {', '.join(known)}"


def _unwritable(out: TextIO) -> str | None:
    """Why the output takes nothing more, for example where it goes to a full disk; None where it
    does.

    What failed may have been thrown away already, so that only one more line can tell.
    """
    try:
        out.flush()
        os.write(out.fileno(), b"\n")
    except io.UnsupportedOperation:  # it is no file
        return None
    except OSError as error:
        _give_up(out)
        return error.strerror or str(error)
    except ValueError:  # closed
        return None
    return None


def _give_up(out: TextIO) -> None:
    """Let what is still to be written go nowhere: the interpreter would complain of it at its
    end."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), out.fileno())


def _say(err: TextIO, text: str) -> None:
    """One line on the error stream, whatever is in the text; nobody may be listening any more."""
    line = " ".join(text.split("\n"))
    with contextlib.suppress(OSError, ValueError):
        print(f"livecheck: {line}", file=err, flush=True)


def _kept_fault(home: str | None) -> str:
    """Write the traceback under way to a log of its own and say where."""
    now = datetime.now().astimezone().isoformat(timespec="seconds")
    text = f"{now} livecheck {__version__}\n{traceback.format_exc()}\n"
    last = traceback.format_exc(limit=0).strip().splitlines()[-1]
    for folder in _fault_folders(home):
        try:
            path = folder / FAULTS
            fd = open_own(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
            if os.fstat(fd).st_size > FAULTS_BYTES:
                os.ftruncate(fd, 0)
            with open(fd, "a", encoding="utf-8", errors="backslashreplace") as file:
                file.write(text)
            return f"a fault of its own ({last}); what was recorded is safe, details are in {path}"
        except OSError:
            continue
    return f"a fault of its own ({last}); no folder takes the details"


def _fault_folders(home: str | None) -> list[Path]:
    """The practice folder's state folder where there is a practice folder, else the temporary
    folder."""
    from .control import state_folder
    from .files.library import PracticeFolder

    spare = (
        Path(tempfile.gettempdir()) / f"livecheck-{os.getuid() if hasattr(os, 'getuid') else ''}"
    )
    try:
        return [state_folder(PracticeFolder.find(home).root), spare]
    except Exception:  # whatever it is, it must not hide what is to be told
        return [spare]
