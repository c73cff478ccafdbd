"""A hide from a photograph: its outline and flaws to the millimetre, and how sure they are.

`mark_sheet` is what is printed and laid round the hide, `read_photo` reads the photograph, `find_sheets`
finds their crosses in it, `fit` works out floor, lens and camera from them. `flatten` shows the floor from
straight above, where `outline` tells hide from floor and `flaws` finds what is ringed; `edge` leads the
outline to the true edge in the photograph itself. `measure` does all that in its order and says how sure it
is, `hide_text` writes the hide file, `check_picture` shows what was found, `flat_picture` the hide alone. It
imports hides and drawings from below; `api` runs it in a process of its own.
"""
