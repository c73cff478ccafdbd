"""Pictures for people, never for machines: belts, layouts, plans and stock as SVG, PDF and PNG.

A view draws one thing; `text`, `dimension_lines`, `table` and `paper` are what all of them use, `pdf` and
`png` show the same drawing elsewhere. Imports job, nesting and machine.
"""
