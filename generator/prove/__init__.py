"""Step 3, prove: the guide as a checked model of states, tasks, interlocks and routines."""
