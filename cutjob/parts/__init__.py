"""The parts of an item.

An *item* is one saleable thing. Its *parts* are `shaped` (cut out on the machine), `sawn` (crosscut at a saw), `rod`
(cut from round stock) or `bought`. A *feature* of a shaped part is a round hole or a mark within its outline. A *coat*
is a paint or a clear finish on a part's faces, edges or ends.

Decisions:

- A relief is geometry: corner reliefs are built into the part before anything is laid out, so layout, cuts,
  drawings and proof need know nothing of them. A skin, numbers and screws are not: they belong to the job and the
  board.
"""
