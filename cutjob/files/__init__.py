"""TOML files as a user writes them: every value with the line it came from, every mistake named with what to do.

A *key path* leads to a value. A *near miss* is a word that is known and close to one that is not.

Decisions:

- Lengths in messages are marks (units.py): a message stays a string, so that messages can be joined, sorted and
  compared, and the unit is only needed where a message leaves the program (errors_in, each_spelled). 137 functions
  take a unit instead of 175; those that still do read or round by it, or are writers.
"""
