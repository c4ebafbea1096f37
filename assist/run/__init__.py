"""Runs: opened, gone through and closed again - live, rehearsal, demonstration, repeat."""
