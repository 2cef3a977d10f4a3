"""A program swept over its board: each module is one question, such as what was cut into or left uncut."""
