"""What is written: the register, and the switch from old to new."""
