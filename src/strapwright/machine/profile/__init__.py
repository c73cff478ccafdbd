"""The machine file: its tables (`file`, `tool_tables`), read (`machine`) and added to (`append`).

Imports trade and files.
"""
