"""A job's results to job-sheet.html, the page beside the machine: one file that needs no network and no other file.

`sheet` puts it together from `facts` (tables and lists), `play_data` (the moves for the player), pictures of the items,
and the page, style and script in this folder. `notebook` shows the same boards in a notebook.
"""
