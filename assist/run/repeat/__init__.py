"""Repeating a set-up: the earlier picture as a guide for camera and person."""
