"""Tests of the desk page without a browser."""
