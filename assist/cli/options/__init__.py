"""Options that commands have in common, and how typed values are read."""
