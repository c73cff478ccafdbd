"""The search for pieces of any outline: no-fit polygons, corners, exchanges, overlap removal; compiled.

`nfp_cache` holds what is known of one ground, `bottom_left` lays a first layout, `exchange` and
`overlap_removal` better it, `search` runs them. Imports problem.
"""
