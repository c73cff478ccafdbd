"""The search for straps: laid in rows along a ground, their order annealed; compiled.

`instance` holds a ground and its straps as arrays, `free_runs` finds where along a row a strap may lie,
`rows` chooses each strap's row and lays an order of them, `anneal`, `beam` (with `guide`) and
`window_search` look for better layouts, `search` runs them. Imports problem.
"""
