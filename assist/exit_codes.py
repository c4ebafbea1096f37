"""What the program's end says to the shell."""

BAD_INPUT = 2
INTERRUPTED = 130
"""What shells report for a program that an interrupt has ended."""
