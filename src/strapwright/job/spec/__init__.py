"""The job as a person writes it, in TOML or CSV: straps, ends, sizes, fittings, prices.

`job` reads the file whole; each other module holds the tables of one topic, such as the tips, rings and
hooks an end may have (`strap_end`). Imports the catalogue, parts and files.
"""
