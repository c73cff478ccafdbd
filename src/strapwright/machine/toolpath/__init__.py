"""Tool paths of one part, and the runs along them: compensation, lead-ins, bridges, common lines, blade.

`compensate` makes the paths of a part, `runs` says what the tool does along them. Imports kerf, profile and
types.
"""
