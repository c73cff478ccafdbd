"""The solver of a whole nest: choice of hides, strap direction, `strap_search`, then `shape_search`.

`nest` is the whole of it, `solve` one problem, `resume` starts from an earlier layout. Imports every other
package of nesting but strips.
"""
