"""Every figure of a belt or strap, calculated by the `rules` of the trade: fold, rows, size, strength.

`turned_end` works out an end folded round a buckle or ring, `matching_rows` its fastener rows and where they
meet in the turn-back, `layers` how thick it is where, `fastener_choice` what the rows take; `fit` the holes,
girths, tip and keeper of a belt. Imports the spec, the catalogue, parts and rules.
"""
