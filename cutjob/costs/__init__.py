"""Works out what a job costs: machine time, boards used, and each item's share of them.

Decisions:

- An item's cost (costs/item_costs.py) is its share of everything the job uses: whole boards by the area of parts, whole
  sticks by length, the machine's time by the moves on the item's own parts. Things without a stated price are named.
"""
