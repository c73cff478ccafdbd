"""Cut files: DXF, DXF R12, SVG, G-code, HP-GL; one protocol for all (`format`).

Imports readers, drawing and machine.
"""
