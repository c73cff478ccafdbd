"""The rules of the trade as small pure functions of numbers, each with its formula and its source.

They know no job and no draft: `job.dimensions` applies them.

Fold, keeper, sizing, fasteners, punches, choice of leather, strength, and what can hurt someone. Imports
core.
"""
