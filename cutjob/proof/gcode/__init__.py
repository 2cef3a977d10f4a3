"""G-code read back: words to blocks to motions, and the rules that a program keeps whatever it cuts."""
