"""Every figure of a belt or strap, each with its working: fold, slot, rows, posts, size, length.

`end` calculates a turned end, `size` the place of the holes, `belt` all of one belt; `layers` says how
thick what is where. Imports the spec, the catalogue and trade.
"""
