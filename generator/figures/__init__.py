"""Figures: the numbers that an owner asks for, one module a figure.

Each module takes a frozen input and returns a frozen result, which holds the plain numbers and
one or more `Figure`s that say how they came about: inputs and where they came from, the formula
in words, rows, sources and cautions. Nothing here reads, writes, or knows the day.
"""
