"""Cut files: DXF, DXF R12, SVG, G-code, HP-GL; one module a format, one protocol for all (`format`).

Imports readers, drawing and machine.
"""
