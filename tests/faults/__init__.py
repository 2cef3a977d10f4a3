"""What goes wrong outside the program: killed, full disk, no rights, others at work in the same place."""
