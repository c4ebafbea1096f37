"""Speech: short sentences through the platform's own engine.

guidance -> `talk` decides what is worth saying now -> `engines` say it -> `listener` joins the two.
"""
