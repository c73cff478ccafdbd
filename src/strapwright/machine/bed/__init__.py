"""Paths on the bed: where the hide lies, windows and registration holes, the order of cutting.

`sheets` runs all of it for one hide. Imports toolpath, duration, nesting and profile.
"""
