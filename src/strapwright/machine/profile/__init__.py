"""The machine file: its keys (`machine_keys`, `tool_keys`), read (`machine`) and added to (`append`).

Imports rules and files.
"""
