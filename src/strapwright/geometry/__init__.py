"""Contours of lines and arcs: measures, motions, offsets, polygons."""
