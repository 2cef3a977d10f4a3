"""How a board stays one piece until the last cut: clamps or screws, and bridges in the slots.

Cuts go in, cuts with bridges come out. *Node*: a part or a chunk of waste. *Held*: under a clamp or a screw's head, or
joined by bridges to what is.
"""
