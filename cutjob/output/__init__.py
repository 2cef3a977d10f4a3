"""Programs and layouts to files: text and bytes only, nothing is written to disk here but by `folder`.

`numbers` is the only place where coordinates are rounded.
"""
