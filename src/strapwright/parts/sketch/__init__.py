"""Tips and whole parts that a user draws in Python with CadQuery.

`process` runs the sketch in a process of its own and keeps what it drew, `modeller` loads CadQuery and turns
its edges into contours, `drawn` checks them and makes the part. Imports geometry, and of parts only `part`,
`tips` and `own_shape`.
"""
