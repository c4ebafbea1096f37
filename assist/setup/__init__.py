"""What is known before a run: set-up, body, personal profile, how the feed sees, preferences."""
