"""Machines, kerf, cutting order, and the plan for one layout on one machine."""
