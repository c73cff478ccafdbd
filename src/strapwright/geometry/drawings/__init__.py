"""Drawings that other programs saved, SVG and DXF, as lines and arcs in millimetres, y up.

`kinds` says which are read, `file` reads one by its suffix; `gathered` is what is found, `svg` (with
`svg_path` and `svg_style`) and `dxf` find it, `join` closes what was drawn in pieces, `tangent_arcs` puts
arcs for curves. What is not read is named. Imports geometry and files.
"""
