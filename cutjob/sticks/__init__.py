"""Decides which stick gives which pieces: one-dimensional stock cutting, in whole numbers.

A *kind* is sticks of one length at one price. A *way* is one way of sawing a stick: its kind and the number of pieces
of each length. A *cutting* is the number of sticks for each way. The *room* of a stick is its length and one kerf, and
each piece takes its length and one kerf of it: n pieces need n - 1 cuts, and one more unless the last piece ends at the
stick's end.

    lists.py      the named pieces of a job on the sticks of a cutting            stick_lists
    plan.py       lengths in mm to whole numbers, and the goals one after another  plan_sticks
    solve.py      one goal: the least cost, with a bound that proves it           solve
    columns.py    the bound and good ways by column generation                    fillings.py: its knapsacks
    programs.py   linear and whole-number programs, solved by HiGHS
"""
