"""Files, whatever they hold: read and validated, written whole or not at all.

A file's text is read (`read`), checked against a model of fields (`fields`, `validate`), and every mistake
is worded for whoever wrote it (`messages`). Rows are added to such files (`toml_rows`). Output goes to disk
as one change (`atomic_write`, `journal`). What somebody sent is opened in a process of its own (`bounded`).
Imports core.
"""
