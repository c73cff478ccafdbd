"""From parts and hides to a layout: direction, choice of hides, straps in rows, then everything else.

`nest` is the whole of it, `solve` one problem, `resume` goes on from a layout. Imports every other
package of nesting but stock.
"""
