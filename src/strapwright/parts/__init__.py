"""Parametric part definitions: tips, hole rows, buckle ends, straps, keepers."""
