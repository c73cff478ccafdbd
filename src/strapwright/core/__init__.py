"""What every part of strapwright stands on: errors, units, findings and tolerances.

Nothing here knows leather, files or machines. Imports nothing of strapwright.
"""
