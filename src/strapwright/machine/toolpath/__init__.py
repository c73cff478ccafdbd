"""The tool's path along one part: compensated, led in, bridged; the blade turned, the beam entered.

`part` makes the paths of a part, `runs` says what the tool does along them. Imports kerf, profile and
types.
"""
