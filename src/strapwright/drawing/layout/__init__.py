"""The picture of a layout: hides, flaws, parts, and what is left of the leather; and of the hides in stock.

`flaws` has the hatch of each kind of flaw, `hide_thumbnails` the sheet of a folder's hides. Imports drawing
and nesting.
"""
