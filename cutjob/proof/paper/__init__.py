"""Paper patterns read back from the PDF and compared with the parts."""
