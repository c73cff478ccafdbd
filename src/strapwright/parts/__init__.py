"""Parametric parts: straps, their ends, hole rows, tips, keepers, linings, marks.

Each is a function of named dimensions (`dimension`) to a `Part` (`part`): an outline and its features,
each with the operation that makes it. Imports rules and geometry.
"""
