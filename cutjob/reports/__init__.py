"""A finished job for those who read it: plan.json, the job sheet, a booklet, a notebook, and words for the terminal.

Everything is taken from one `JobResult`; nothing is worked out here.

Decisions:

- Writers are below the result, reports above it. output/ writes the files that the proof reads: a board's files, from
  its layout and program. reports/ words the finished job, with its proof. So JobResult can hold the written files, and
  plan, sheet and summary take their counts, times and costs from it. The contents of patterns.pdf and booklet.pdf are
  worked out twice, for the proof in finishing.py and for the plan. Five modules have JSON and TOML as dict[str, Any].
"""
