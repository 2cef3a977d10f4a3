"""Reads the user's files into values.

A *job* says what to make, of what, on which machine. A *machine profile* says what a kind of machine can do and which
cutters it has. A *board* is flat stock: picket, plank, sheet or offcut. Both files are TOML. The models
here are their only definition; the JSON Schemas beside the samples and the profiles are made from them. All lengths in
the models are mm, whatever the unit of the file.

Decisions:

- What a machine can do is asked by name (has_beam, has_spindle, by_hand, runs_gcode, takes_drawings), not by its kind.
  The profile alone says how deep it cuts through and in which direction it goes round a hole.
"""
