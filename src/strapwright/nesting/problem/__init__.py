"""The nesting problem in polygons alone: pieces, grounds, and what each piece keeps clear of.

`build` makes it of parts and hides, `check` says whether places solve it. Imports hide and layout.
"""
