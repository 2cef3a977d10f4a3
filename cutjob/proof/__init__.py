"""The written files read back, swept and compared with the parts.

Nothing here shares code with the writers, the cut paths or the offsets: a wrong path can't excuse itself. Input is the
bytes of the files, the layout, the machine profile and a short statement of what each file is for (`expect`).

Decisions:

- The proof compares with parts, layout and machine only. It imports neither cuts, program, output nor the offset,
  nor ezdxf; its distances are exact between lines and arcs. DXF is checked once more by GDAL in the tests.
"""
