"""Machines, and the plan for one layout on one machine: the tool's paths in their order, sheet by sheet.

`profile` is the machine as written, `kerf` what it cuts away, `toolpath` the paths of one part, `sheet`
the order and place of paths on the bed; `plan` runs them and gives a `types.CutPlan`. `test_pieces` are
cut to measure the machine. Imports nesting, job, parts, trade and geometry.
"""
