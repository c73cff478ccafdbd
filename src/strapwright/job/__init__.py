"""From what a person asks for to the draft that answers it.

`spec` is the job as written, `catalogue` what it refers to; `dimensions` calculates every figure by the
rules of the trade, `findings` says what to know of them, and `draft` puts it all into a `strap_draft` for
each strap. `fit_record` keeps what finished belts measured beside it. `folding` lays a drafted belt round
its buckle, `bill` prices it, `measuring` asks for the measures of a buckle. Imports parts, rules, geometry,
files and core.
"""
