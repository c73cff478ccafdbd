"""Search for irregular pieces: no-fit polygons, bottom-left fill, exchanges, overlap removal; compiled.

`nfp_cache` keeps the no-fit polygons of one ground, `bottom_left` makes a first layout, `exchange` and
`overlap_removal` improve it, `lay_shapes` runs them. Imports problem.
"""
