"""Every figure of a belt or strap, calculated by the `rules` of the trade: fold, rows, size, strength.

`turned_end` works out an end folded round a buckle or ring with its fastener rows and their matching holes,
`fastener_choice` what they take; `fit` the holes, girths, tip and keeper of a belt. Imports the spec, the
catalogue, parts and rules.
"""
