"""Turns parameters into parts: one module per design, and the catalogue that finds them by name.

A *design* has *parameters* with limits, and *sizes*, which are named sets of parameter values. Building it gives all
the parts of one item.
"""
