"""The job as a person writes it, in TOML or CSV: straps, ends, sizes, fittings, prices.

`job` reads the file whole; each other module holds the tables of one topic. Imports the catalogue, parts
and files.
"""
