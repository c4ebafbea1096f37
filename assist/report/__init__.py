"""The report of a session: one page with set-up, plan, attempts, rehearsals and what to keep."""
