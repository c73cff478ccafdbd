"""Breaking off: Ctrl-C noted during a search, and the flag that ends compiled code and the solver.

Imports core.
"""
