"""The written files read back, swept and compared with the parts.

Nothing here shares code with the writers, the cut paths or the offsets: a wrong path can't excuse itself. Input is the
bytes of the files, the layout, the machine profile and a short statement of what each file is for (`expect`).
"""
