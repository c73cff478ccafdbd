"""Paths on the bed: where the hide lies, windows and registration holes, the order of cutting.

`cut_sheets` runs all of it for one hide; `bed_limits` says what the bed has no room for. Imports toolpath,
duration, nesting and profile.
"""
