"""Drawings that other programs saved, SVG and DXF, as lines and arcs in millimetres, y up.

`file` reads one by its suffix; `gathered` is what is found, joined where it was drawn in pieces; `svg` (with
`svg_path` and `svg_style`) and `dxf` find it, `tangent_arcs` puts arcs for curves. What is not read is
named. Imports geometry and files.
"""
