"""The picture of a layout: hides, flaws, parts, and what is left of the leather.

Imports drawing and nesting.
"""
