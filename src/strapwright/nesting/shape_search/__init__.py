"""Search for irregular pieces: no-fit polygons, bottom-left fill, exchanges, overlap removal; compiled.

`nfp_cache` keeps the no-fit polygons of one ground, `bottom_left` makes a first layout, `lay_shapes` improves
it by exchanges, with `overlap_removal`. Imports problem.
"""
