"""A user's own designs: turns a TOML file of formulas, or a Python function, into an ordinary `Design`.

A *formula* is arithmetic in a text, such as `"longest - i * 5/8 in"`: numbers, lengths with their unit, names,
functions. A *parameter* is set by the job. A *value* is a named formula. A *series* is a formula worked out once for
each step of a count, in which `i` runs from 0 to `n - 1`. A *curve* is a batten curve through pins. A *path* is an
outline drawn step by step. A *repeat* draws a thing several times, and `k` counts them from 0.
"""
