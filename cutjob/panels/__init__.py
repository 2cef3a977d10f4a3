"""A field filled with end cuts until nothing is left open.

A *piece* is a cut end of the inventory, a *laid* piece what is cut from one and where it lies. Everything here is in
whole *units* (1/64 in or 0.1 mm), so that areas and joints are exact; x runs along the field's length, y up.
"""
