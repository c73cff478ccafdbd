"""Pictures of what a machine does: a plan's cuts in their order, and its measured kerfs.

Imports drawing, drawing.layout and machine.
"""
