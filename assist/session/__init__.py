"""A session: its folder with set-up and pictures, its record, the scores of its rehearsals."""
