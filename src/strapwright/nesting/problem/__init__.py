"""The nesting problem in polygons alone: pieces, grounds, and what each piece keeps clear of.

`build` makes it of parts and hides, `check` says afresh whether placements solve it. Imports hide and layout.
"""
