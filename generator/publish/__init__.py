"""Step 6, publish: what was built beside is switched in; the register gains its new lines."""
