"""How wide the blur is in a part of a picture, measured from the edges that are in it."""
