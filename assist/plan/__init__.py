"""Planning the shot before walking into it: from a set-up to everything worth knowing, and back.

SearchRequest -> `forward` (one set-up, all consequences) or `inverse` (what is wanted, which set-ups do)
-> a typed result -> table, drawing, diagram, procedure, sheet, JSON. Results hold SI units only.
"""
