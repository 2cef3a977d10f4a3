"""A program to G-code, byte for byte the same each time, with the comments an operator reads first."""
