"""Pages of a PDF at true size: lines, arcs and letters in mm go in, the same bytes every time come out."""
