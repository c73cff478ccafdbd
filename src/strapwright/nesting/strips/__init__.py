"""Strips instead of hides: strap blanks read from a file, parts assigned to them, and what is left.

`file` reads strips; `problem` puts parts and strips into whole numbers, `bound` proves by patterns what any
assignment needs, `assign` finds one by constraint programming, `verify` checks it afresh; `leftovers` has
what goes back to the shelf and the true waste, `pull_list` the marks to pull, `plan_file` the result as JSON.
Imports hide alone.
"""
