"""What an item is made of.

An *item* is one saleable thing. Its *parts* are `shaped` (cut out on the machine), `sawn` (crosscut at a saw), `rod`
(cut from round stock) or `bought`. A *feature* of a shaped part is a round hole or a mark within its outline.
"""
