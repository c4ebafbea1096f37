"""Checking the pictures: how sharp the eyes are, why, and what to change."""
