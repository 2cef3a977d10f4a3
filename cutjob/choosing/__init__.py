"""Chooses how many of each item to make, where a job leaves that open: what brings most from its wood and its hours.

A *piece* is a part of an item, a *column* one board laid out in a real way that is held: what it gives of each piece
and what it costs. A *mix* is how many of each item are made, and of which columns. What an item *brings* is its price
without fees and tax, what it *leaves* is that without its costs.

pieces.py       items as pieces, by wood
worth.py        what an item and a board cost, from the shop's figures
boards.py       single boards, filled by what pieces are worth: columns
programme.py    the mix that leaves most, with HiGHS
bound.py        what no choice can pass
choose.py       all of it, and the tries with the job as a whole

Decisions:

- Columns are real layouts, held by the ways in which the whole job will be; areas alone promise what can't be cut. The
  job with the chosen counts is still laid out as a whole, by the same search as any other job: only a choice that was
  made and proven is reported. So a job with these counts written in gives the same files.
- The cost of a job is a sum over items and boards (worth.py), so that a mix costs what its account will say, but
  for changes of cutters between boards, stacks, and boards that the whole layout fills better. The boards of a choice
  that was made become columns too, so that the next try can use what they hold more.
- Prices don't follow from costs while counts are chosen: a wasteful layout would then bring more. An item without a
  price is offered for what it costs on boards of its own, with the shop's margin.
- An item is sold where fees take least. Sets are left out: nobody knows how many are sold as one.
"""
