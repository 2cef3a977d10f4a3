"""The ordered cut: which path comes when, the moves between them, and how long it takes.

A *move* goes from where the cutter is to its end. An *air move* cuts nothing. Everything is in the board's frame, mm,
with Z 0 at the stock's top and negative below; a writer shifts to the program's own zero.
"""
