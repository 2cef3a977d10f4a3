"""A job's results to job-sheet.html, the page beside the machine: one file that needs no network and no other file.

`sheet` puts it together from `facts` (tables and lists), `board_view` (boards seen from above), `held_view` (how they
hang together), `play_data` (the moves for the player), `finished` (items as they stand), and the page, style and script
in this folder.
"""

from cutjob.output.job_sheet.sheet import SHEET_FILE, write_job_sheet

__all__ = ["SHEET_FILE", "write_job_sheet"]
