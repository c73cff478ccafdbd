"""Contours of lines and circular arcs, exact from the part to the file: measures, motions, offsets, polygons.

`contour` is the one type; everything else makes, moves or measures it. `lettering` sets text in single
strokes, drawn in `characters`; `drawings` reads what other programs drew. Imports core and files.
"""
