"""Nesting of parts on hides: strap direction, choice of hides, straps in rows, then everything else.

`nest` is the whole of it, `solve` one problem, `resume` starts from an earlier layout. Imports every other
package of nesting but stock.
"""
