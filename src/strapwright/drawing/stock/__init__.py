"""Pictures of hides in stock.

Imports drawing, drawing.layout and nesting.
"""
