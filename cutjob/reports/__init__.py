"""A finished job for those who read it: plan.json, the job sheet, a notebook, and words for the terminal.

All of it is worded from one `JobResult`; nothing is worked out here.

Decisions:

- Writers below the result, reports above it. output/ writes what the proof reads: a board's files, from its layout
  and program. reports/ words the finished job, proof and all. So JobResult can hold what writers made, and plan,
  sheet and summary take their counts, times and costs from it. What patterns.pdf shows is still worked out twice,
  for the proof in finishing.py and for the plan. JSON and TOML as dict[str, Any] stand in five modules.
"""
