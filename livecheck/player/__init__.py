"""The built-in player: a simulated guitarist and converter, for the demo, for tests and for trying things without hardware."""
