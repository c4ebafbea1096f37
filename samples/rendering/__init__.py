"""Rendered footage with exactly known truth (a contributor's tool, not part of the program).

Run the modules from the repository root, for example ``python -m samples.rendering.walk_clip``.
Units are metres, seconds and radians unless a name says otherwise. The world is right-handed with
z up; the camera's lens stands above the origin and looks along +y; a person with yaw 0 faces the
camera (-y) and has their left hand at +x.
"""
