"""Lockerleaf: one structured description of a leisure vehicle in, one owner guide out.

The flow is read, fit, prove, compose, render, publish. DEVELOPERS.md describes the rooms.
"""

__version__ = "0.1.0"
