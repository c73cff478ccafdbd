"""Hides: outline, flaws, thickness, backbone; read from files, tape measures and drawings.

`types` is the hide, `file` and `drawing` read it, `repair` mends it. Imports geometry and files.
"""
