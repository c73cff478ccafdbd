"""Readers of cut files, independent of their writers: DXF, SVG, G-code, HP-GL as the paths they cut.

Imports machine and geometry.
"""
