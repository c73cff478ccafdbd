"""Proofs: a written file read back and measured against its plan, a trailing blade simulated along it.

Imports readers, formats and machine.
"""
