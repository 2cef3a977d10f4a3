"""The written files read back, swept and compared with the parts.

Nothing here shares code with the writers, the cut paths or the offsets, so a wrong path can't excuse itself. The input
is the bytes of the files, the layout, the machine profile and a short statement of each file's purpose (`expect`).

Decisions:

- The proof compares only with parts, layout and machine. It imports neither cuts, program, output, offsets nor ezdxf.
  Its distances between lines and arcs are exact. In the tests GDAL checks DXF once more.
"""
