"""Measurements, printed and never asserted."""
