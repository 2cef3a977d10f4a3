"""What a job takes and costs: machine time, boards used, and each item's share of them.

Decisions:

- What an item costs (costs/item_costs.py) is shared out of what the job really takes: whole boards by the parts'
  area, whole sticks by length, the machine's time by the moves on the item's own parts. What has no stated price is
  named.
"""
