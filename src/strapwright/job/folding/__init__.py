"""A drafted belt closed round its buckle: where the strap's middle line runs and where its layers lie.

`fold` is the buckle end, `worn` the belt on the body. Imports drafts and dimensions.
"""
