"""Programs and layouts to files, as text and bytes; only `folder` and `stock_file` write to disk.

`numbers` is the only place where coordinates are rounded.

Decisions:

- Files of stock are the user's. output/stock_file.py changes lines, reads the result again and refuses what it
  can't change safely. Boards taken stay in the file with taken, so that a job may be made again until it is cut,
  and a job is known by its title and file name: renamed, it can't take wood that is gone. Tried and not taken:
  tomlkit 0.15.2 (it moves a [[board]] written after a [[rod]] before it just by reading and writing, and takes out
  the comments after an entry with the entry; 21 of 49 test cases gave other bytes, and 990 boards took 0.85 s
  instead of 0.36 s, for 26 of 304 lines saved).
"""
