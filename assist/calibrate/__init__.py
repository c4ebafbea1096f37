"""Learning what a distance depends on: the person's body and the feed's geometry."""
