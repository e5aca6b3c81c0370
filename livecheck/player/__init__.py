"""The built-in player: a simulated guitarist and converter, for the demo, tests and trying things
without hardware."""
