"""The program as a page in the browser of this computer: plan, take, check, without a command line.

Served to this machine alone. It asks the same services as the command line does.
"""
