"""What each address of the page answers.

A module for each place (`work`, `leather`, `shop`) and for each part of a job's sheet (`job`, `layout`,
`cut`, `by_hand`, `made`). They share the bench and import from `sheet/` and `leather/`; only `app` joins
them.
"""
