"""Bad input: files spoiled by hand and by chance, and what the program must answer to each.

A *case* is a folder of files and a command. Whatever it holds, the command ends with clear messages, one to a mistake,
exit code 2, no traceback, and nothing in the folder changed; or, where the files are right after all, in a proven
output folder. Tables of cases: `jobs`, `profiles`, `drawings`, `own_designs` (and panels), `programs`, `places` (paths,
links, devices), `heavy` and `heavy_drawings` (what could take for ever or all memory).
`mutate` spoils good files by chance, `judge` says what is wrong with an answer, and `python -m tests.hostile.fuzz`
looks for new ones.
"""
