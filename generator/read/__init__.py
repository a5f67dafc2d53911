"""Step 1, read: text becomes typed values, as the author wrote them, each with its position."""
