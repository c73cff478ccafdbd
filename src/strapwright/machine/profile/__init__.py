"""The machine file: its keys (`machine_keys`, `tool_keys`), read and added to (`machine`).

Imports rules and files.
"""
