"""Step 2, fit: library and unit become a guide. Every slug, code and address is decided here."""
