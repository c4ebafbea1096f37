"""What anything may use: errors, units, files, records, words, and what differs by system."""
