"""The picture of a layout: hides, flaws, parts, and what is left of the leather; and of the hides in stock.

`elements` has what all of them are made of, `flaws` the hatch of each kind of flaw; `hide_thumbnails` is the
sheet of a folder's hides. Imports drawing and nesting.
"""
