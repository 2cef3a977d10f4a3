"""Words about a job for people to read: cautions, a file's opening, how a board is held, what a drawing shows."""
