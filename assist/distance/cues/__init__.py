"""Cues: separate ways of telling how far a person stands.

Every cue answers for the depth of the eyes, with the standard deviation it would have by itself, or
says why it does not apply. The errors of cues are far from independent: they read the same
landmarks, and take the size of the body from the same person. `distance.fusion` allows for that.
"""
