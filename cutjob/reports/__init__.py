"""A finished job for those who read it: plan.json, the job sheet, a notebook, and words for the terminal.

All of it is worded from one `JobResult`; nothing is worked out here.
"""
