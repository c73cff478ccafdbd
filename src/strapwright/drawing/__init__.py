"""Pictures for people, never for machines: belts, layouts, plans and stock as SVG, PDF and PNG.

A view draws one thing on a `canvas`, as values with the names of their `looks`; `text`, `dimension_lines`,
`table` and `title_block` are what views of belts use. `svg`, `pdf` and `png` only render a canvas. Imports
job, nesting and machine.
"""
