"""Text as single strokes, to be scored or engraved along the line.

`characters` says what can be set, `strokes` holds the letters' own drawing, `engraving` sets a line of
text as contours. Imports geometry.
"""
