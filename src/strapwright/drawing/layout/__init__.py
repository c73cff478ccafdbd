"""The picture of a layout: hides, flaws, parts, and what is left of the leather.

`flaws` has the hatch of each kind of flaw. Imports drawing and nesting.
"""
