"""TOML files as a user writes them: every value with the line it came from, every mistake named with what to do.

A *key path* leads to a value. A *near miss* is a word that is known and close to one that is not.
"""
