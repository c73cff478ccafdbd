"""From what a person asks for to the draft that answers it.

`spec` is the job as written, `catalogue` what it refers to; `dimensions` calculates every figure, `judge`
finds what is worth knowing about them, and `draft` puts parts, dimensions and findings together.
`folding` lays a drafted belt round its buckle, `bill` prices it. Imports parts, trade, geometry, files
and core.
"""
