"""The built demo in Chromium."""
