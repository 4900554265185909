"""Calculators: one text of a formula, from which come what computes, what the page runs, and what the reader sees.

expression.py  the small language: a text -> a tree of frozen dataclasses, or one clear fault; nothing is ever run
units.py       units as written -> how they turn into SI units, and their dimensions
formula.py     a file of kb/calculators/ and the hospital's values -> all its expressions, bound to their names
dimension.py   proves that pressures are added to pressures only, and that each result has its unit
compute.py     the formula as a function of Python;  trial.py: held against its ranges and its check values
javascript.py  the same as a function of JavaScript;  mathml.py: the same for the reader's eyes
entry.py       what a person types -> a number or a clear message, and numbers as they are shown
"""
