"""Machines, and the plan for one layout on one machine: the tool's paths in their order, sheet by sheet.

`profile` is the machine file, `kerf` the width of the cut, `toolpath` the paths of one part and what the tool
does along them, `bed` the place and order of paths on it; `planning` runs them and gives a
`cut_plan.CutPlan`, `duration` its times, `hide_pose` where the hide lies. `test_pieces` are
cut to measure the machine. Imports nesting, job, parts, rules and geometry.
"""
