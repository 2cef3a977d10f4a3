"""Designs of the maker's own: a TOML file of plain sums, or a Python function, to an ordinary `Design`.

A *sum* is arithmetic in a text, such as `"longest - i * 5/8 in"`: numbers, lengths with their unit, names, functions.
A *parameter* is set by the job; a *value* is a named sum; a *series* is a sum worked out once for each step of a
count, in which `i` runs from 0 to `n - 1`; a *curve* is a batten curve through pins. A *path* is an outline drawn step
by step; a *repeat* draws a thing several times, and `k` counts them from 0.
"""
