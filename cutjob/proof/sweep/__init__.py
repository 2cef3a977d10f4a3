"""Programs swept over their board: each module is one question, such as what was cut into, and its judges."""
