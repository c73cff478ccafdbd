"""A drafted belt closed round its buckle: where the strap's middle line runs and where its layers lie.

`fold` is the buckle end, `on_the_body` the belt worn. Imports drafts and dimensions.
"""
