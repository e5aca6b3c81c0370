"""The commands, a module for each group. A module's ``register`` adds its commands to the parser.

Modules are imported for every start, so each imports what its work needs only when that work is
done.
"""

GROUPS = (
    "play",
    "recorder",
    "score",
    "review",
    "compare",
    "sessions",
    "export",
    "notes",
    "cell",
    "rig",
    "check",
)
"""In the order in which the help lists them."""
