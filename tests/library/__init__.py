"""The library against units that nobody wrote."""
