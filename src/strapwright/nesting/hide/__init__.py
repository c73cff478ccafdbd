"""Hides: outline, flaws, thickness, backbone; read from files, tape measures and drawings.

`types` is the hide, `file` and `drawing` read it, `file_text` writes it, `repair` makes it sound,
`sound_leather` finds the longest strap and the largest rectangle in it. Imports geometry and files.
"""
