"""Every figure of a belt or strap, calculated by the `rules` of the trade: fold, rows, size, strength.

`turned_end` works out an end folded round a buckle or ring, `rows_and_mates` its fastener rows and their
matching holes, `fastener_choice` what they take; `fit` the holes, girths, tip and keeper of a belt;
`layers` says how thick what is where. Imports the spec, the catalogue, parts and rules.
"""
