"""The user's files to values.

A *job* says what to make, of what, on which machine. A *machine profile* says what a kind of machine can do and which
cutters it has. A *board* is flat stock: picket, plank, sheet or offcut. Both files are TOML; the models here are their
only definition, and the JSON Schemas shipped beside the samples and the profiles are made from them. All lengths in the
models are mm, whatever the file was written in.

Decisions:

- What a machine can do is asked by name (has_beam, has_spindle, by_hand, runs_gcode, takes_drawings), not its kind;
  how deep it cuts through and which way round a hole it goes are said by the profile alone.
"""
