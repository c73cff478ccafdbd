"""What all addresses of the page share.

`access` says who may come in, `respond` how they are answered, `events` tells every open tab what has
happened, `worker` runs what takes long in a process of its own. `bench` holds them together for one shop, and
changes its files as steps that can be undone; every class of routes is a `Routes` with that bench. It imports
from `sheet/`, `leather/` and from everywhere below the page.
"""
