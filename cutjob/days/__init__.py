"""What is finished by which day, from a shop's week, its orders and what was noted as made and sold.

An *order* is what one customer gets on one day. Its *ready day* is the last day on which it may be ready: the day the
customer is to have it, less the days of the post, and no later than the last day of the season. Its work must be done
earlier still by the days its coats dry. *Minutes* are minutes of work, counted from the morning of the first day;
nights and days off have none.

Modelled is one pair of hands and one machine that runs while they work: an order takes the longer of the two, the hours
by hand (with the attended share of the machine's) or the hours of the machine. Coats dry after the work and take no
hands; an order of more items than the drying room holds dries in several lots. Orders that dry at the same time don't
wait for each other: the words name the days on which they need more room than there is.
"""
