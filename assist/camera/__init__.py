"""The taking camera: what fires it, and where its pictures go."""
