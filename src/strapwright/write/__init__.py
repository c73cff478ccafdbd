"""Files for machines and people, and the proof that they say what was planned.

`formats` write a plan, `readers` read files back without the library that wrote them, `proof` measures one
against the other. `pattern` and `card` are for those who cut by hand, `cut_sheet_text` for the bench beside
the machine, `test_pieces` for measuring it. Imports drawing, machine and everything below.
"""
