"""What people read about a job, in words: cautions, how a board is held, what is sawn by hand."""
