"""Everything that touches a camera, a picture, a screen, a loudspeaker or a file.

The data flows one way:
feed -> frame -> pose -> body -> distance -> verdict -> guidance -> overlay, sound, trigger, record.
"""

__version__ = "0.1.0"
