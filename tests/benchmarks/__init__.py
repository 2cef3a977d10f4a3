"""Timings, run by hand: ratios and growth side by side in one run, never a pass or fail on seconds."""
