"""Sound: tones that say where the zone is, for someone who cannot see the screen.

guidance -> cue -> renderer -> loudspeaker, or a file. Only `output` touches a device.
"""
