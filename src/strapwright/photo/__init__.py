"""A hide from a photograph: its outline and flaws to the millimetre, and how sure they are.

`mark_sheet` is what is printed and laid round the hide; `photograph` reads the photograph and shows its
floor from straight above; `find_sheets` finds the sheets' crosses in it, `fit` works out floor, lens and
camera from them. On the flat picture `outline` tells hide from floor and `flaws` finds what is ringed;
`edge` leads the outline to the true edge in the photograph itself. `measure` does all that in its order and
says how sure it is, `several` joins what several photographs show, `hide_text` writes the hide file,
`hide_pictures` show what was found, and the hide alone. It imports hides and drawings from below; `api` runs
it in a process of its own.
"""
