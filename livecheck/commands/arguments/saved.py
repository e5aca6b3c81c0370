"""What was played, saved sessions and MIDI files: judge it, look at it again, ask what it says."""

from __future__ import annotations

from .common import (
    Commands,
    add,
    add_cells,
    add_chosen,
    add_console,
    add_sessions,
    add_verbs,
    positive,
    repetition,
    span,
)

TAKE_HELP = "a Standard MIDI File, or a session's name or folder"


def register(commands: Commands) -> None:
    _score(commands)
    _review(commands)
    _compare(commands)
    _ways(commands)
    _sessions(commands)
    _replay(commands)
    _export(commands)
    _notes(commands)


def _score(commands: Commands) -> None:
    score = add(
        commands,
        "score",
        "score:run_score",
        "say what happened to every note of a MIDI file or a recorded session",
        "For a session, --cell, --variant and --rig judge it anew with another cell or rig than "
        "it was recorded with.",
        json_too=True,
    )
    score.add_argument("sessions", metavar="FILE|SESSION", help=TAKE_HELP)
    add_cells(score, "what was to be played: a file or name (a MIDI file needs it)")
    score.add_argument("--variant", metavar="NAME", help="which of the cell's ways to play it")
    score.add_argument(
        "--rig",
        metavar="RIG",
        help="a rig file or name; channel 1 is string 1 and so on without it",
    )


def _review(commands: Commands) -> None:
    review = add(
        commands,
        "review",
        "review:run_review",
        "say up to which tempo a cell is secure, where it breaks, and what goes first",
        "All sessions, where none is chosen. Judging is kept beside each session, so that the "
        "next review is quick.",
        json_too=True,
    )
    add_sessions(review)
    review.add_argument(
        "--html", metavar="FILE", help="write a page with pictures, to be opened in any browser"
    )


def _compare(commands: Commands) -> None:
    compare = add(
        commands,
        "compare",
        "compare:run_compare",
        "say which of two ways of playing is cleaner at equal tempo, and by how much",
        "Give two sessions or MIDI files, or one of the options with two values; the other "
        "options choose the sessions and the cell as for `review`.",
        json_too=True,
    )
    two = compare.add_mutually_exclusive_group()
    two.add_argument(
        "--variants", nargs=2, metavar=("A", "B"),
        help=(
            "two variants of a cell; 'as written' is the cell's own; with two MIDI files: how "
            "each was played"
        ),
    )  # fmt: skip
    two.add_argument("--cells", dest="two_cells", nargs=2, metavar=("A", "B"), help="two cells")
    two.add_argument(
        "--family",
        metavar="NAME",
        help="the cells of a family (`cell vary`) with the one that they were made of",
    )
    two.add_argument(
        "--rigs", nargs=2, metavar=("A", "B"), help="two rigs, by the names they were recorded with"
    )
    two.add_argument(
        "--ways", nargs=2, metavar=("A", "B"), dest="two_ways",
        help="two ways of playing as `livecheck ways` found them, by letter or name",
    )  # fmt: skip
    two.add_argument(
        "--spans", nargs=2, metavar=("A", "B"), type=span,
        help="two spans of time: 2026-10 2026-11, or 2026-10-01/2026-10-14 2026-11",
    )  # fmt: skip
    add_sessions(compare)
    compare.add_argument(
        "--html", metavar="FILE", help="write a page with the pictures, to be opened in any browser"
    )


def _ways(commands: Commands) -> None:
    ways = add(
        commands,
        "ways",
        "ways:run_ways",
        "say whether a cell is played in several ways that come and go, and how they differ",
        "A way is a lasting difference between repetitions that nobody planned: a note not picked, "
        "a string touched, a note earlier. All sessions, where none is chosen.",
        json_too=True,
    )
    ways.add_argument("cells", metavar="CELL", help="which of the cells that were played")
    ways.add_argument(
        "--name", nargs=2, metavar=("WAY", "NAME"),
        help="call a way (A, B or its name now) by a name, by which it is known in later sessions",
    )  # fmt: skip
    add_chosen(ways)


def _sessions(commands: Commands) -> None:
    sessions = add(
        commands,
        "sessions",
        "sessions:run_sessions",
        "list the recorded sessions, oldest first",
        json_too=True,
    )
    check = add(
        add_verbs(sessions),
        "check",
        "sessions:run_check",
        "read every line of sessions and say what is not as it was written",
        "Nothing of them is changed. Exit status 2 where something is damaged or missing; a "
        "session that was cut off, by a power failure for example, is not damaged.",
        json_too=True,
    )
    check.add_argument(
        "sessions", metavar="SESSION", nargs="*", help="names or folders; all where none is given"
    )
    check.add_argument(
        "--salvage", action="store_true", help="save what is good of a damaged one as NAME-salvaged"
    )


def _replay(commands: Commands) -> None:
    about = "show a recorded session again, judged anew"
    replay = add(commands, "replay", "replay:run_replay", about)
    replay.add_argument(
        "sessions",
        metavar="SESSION",
        help="its name or the beginning of it, `last`, or its folder",
    )
    pace = replay.add_mutually_exclusive_group()
    pace.add_argument(
        "--speed", metavar="X", type=positive, default=1.0, help="so many times as fast as played"
    )
    pace.add_argument("--fast", action="store_true", help="as fast as it can be judged")
    replay.add_argument(
        "--from-rep", metavar="N", type=repetition,
        help="from this repetition on; what was before it is told at once",
    )  # fmt: skip
    add_cells(replay, "judge it with this cell, not the one it was recorded with")
    replay.add_argument("--variant", metavar="NAME", help="which of that cell's ways to play it")
    replay.add_argument("--rig", metavar="RIG", help="judge it with this rig instead")
    add_console(replay)


def _export(commands: Commands) -> None:
    export = add(
        commands,
        "export",
        "export:run_export",
        "write a session's repetitions as CSV tables, and its takes as MIDI files",
        "--cell, --variant and --rig judge it with another cell or rig than it was recorded with.",
        json_too=True,
    )
    export.add_argument(
        "sessions",
        metavar="SESSION|FILE",
        help="a session's name or folder, or a Standard MIDI File",
    )
    export.add_argument(
        "--csv",
        metavar="DIR",
        help="write NAME-repetitions.csv, NAME-slots.csv and NAME-extras.csv",
    )
    export.add_argument(
        "--midi", metavar="DIR", help="write NAME-take-001.mid and so on, a file a take"
    )
    export.add_argument(
        "--force", action="store_true", help="write over files that are there already"
    )
    add_cells(export, "what was to be played: a file or name (a MIDI file needs it)")
    export.add_argument("--variant", metavar="NAME", help="which of the cell's ways to play it")
    export.add_argument("--rig", metavar="RIG", help="a rig file or name")


def _notes(commands: Commands) -> None:
    notes = add(
        commands,
        "notes",
        "notes:run_notes",
        "show note by note how a take was played: early or late, picked or hammered, strings "
        "touched and left ringing",
        "The band in the middle of the ruler is too little to be noticed. Attack is the velocity "
        "over what the string and the repetition usually give.",
        json_too=True,
    )
    notes.add_argument("sessions", metavar="FILE|SESSION", help=TAKE_HELP)
    add_cells(notes, "what was to be played, or which of a session's cells: a cell file or name")
    notes.add_argument(
        "--variant", metavar="NAME", help="which way of playing it; 'as written' is the cell's own"
    )
    notes.add_argument("--rig", metavar="RIG", help="a rig file or name")
    notes.add_argument(
        "--last",
        dest="last_reps",
        metavar="N",
        type=positive,
        help="only the last so many repetitions",
    )
