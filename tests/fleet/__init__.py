"""Tests of building many guides."""
