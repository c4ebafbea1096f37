"""Planning the shot before walking into it: from a set-up to everything worth knowing, and back.

SetUp -> `planning` (one set-up, all consequences), or SearchRequest -> `search` (what is wanted,
which set-ups do) -> a typed result (`plan`) -> tables, drawings, procedure, sheet, JSON. Numbers in
results are in SI units only.
"""
