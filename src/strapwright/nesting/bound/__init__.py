"""Upper bounds: by area, by Lagrangian relaxation of straps to bars in lanes, by constraint programming.

`runner` proves them beside a search; `area` also says in words how much better a layout could be.

Imports strap_search for its rows, problem and cancellation.
"""
