"""Pictures for people, never for machines: belts, layouts, plans and stock as SVG, PDF and PNG.

A view draws one thing on a `canvas`, as values with the names of their `looks`; `text`, `dimension_lines`
and `drawing_sheet` are what views of belts use. `svg`, `pdf` and `png` only render a canvas. `measuring`
shows what is measured of a person, a belt and a buckle, `pattern_pieces` what a pattern shows of a draft.
`plan` shows a machine's cuts in their order, `kerf_plot` its measured kerfs. Imports job, nesting and
machine.
"""
