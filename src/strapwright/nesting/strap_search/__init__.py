"""The search for straps: laid in rows along a ground, their order annealed; compiled.

`instance` holds a ground and its straps as arrays, `stack` lays an order of them row by row, `anneal`, `beam`
(with `guide`) and `windows` look for better layouts, `search` runs them. Imports problem.
"""
