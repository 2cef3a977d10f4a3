"""Drawings read back and compared with the parts they are to show."""
