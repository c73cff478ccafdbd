"""Bounds no layout can pass: by area, by relaxation to bars in lanes, by constraint programming.

`runner` finds them beside a search. Imports strap_search for its rows, problem and cancellation.
"""
