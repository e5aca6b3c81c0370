"""How each command is called: its name, its options, its help, and which function runs it.

A module for each group, in the order of the help; its ``register`` declares the group's commands.
These modules are imported at every start and so import nothing heavy. The functions that they name
(``"score:run_score"`` is ``run_score`` in ``commands/score.py``) are imported only when they run.
"""

GROUPS = ("practice", "agenda", "climb", "pedal", "recorder", "saved", "cell", "rig", "check")
