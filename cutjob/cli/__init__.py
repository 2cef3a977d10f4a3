"""The commands: what the program asks and answers in a terminal. The only place that prints and that ends a run."""
