"""Every tolerance of the project, in one place, in millimetres unless its name says otherwise."""

from __future__ import annotations

from typing import Final

COINCIDENT: Final = 1e-9
"""Two points nearer than this are one point: far above rounding at hide size (1e-12), far below a cut."""

SHORTEST_SEGMENT: Final = 1e-6
"""A line or arc shorter than this is refused in a contour: no tool can follow it."""

STRAIGHT_BULGE: Final = 1e-12
"""A bulge smaller than this is a straight line: over 10 m its sagitta is 5e-9 mm."""

OFFSET: Final = 1e-6
"""An offset contour keeps its distance to within this everywhere, or is refused."""

NESTING_CHORD: Final = 0.02
"""Arcs become chords for nesting with at most this error, always outward for parts, inward for hides."""

DRAWN_CURVE: Final = 0.02
"""Curves of a drawing made elsewhere become arcs that stray by at most this: less than a beam is wide."""

CLEARANCE: Final = 1e-4
"""Parts may stand this much nearer than the gap asked for: rounding in the nest, below any machine's step."""

COMMON_EDGE: Final = 10.0
"""Shorter edges are not shared by two parts, mm: a stop and a start cost more than they save."""

SAME_LINE: Final = 0.005
"""Two edges no further apart than this are one cut, mm: half of what a strap's width may be out by."""

SVG_ARC_SWEEP_DEG: Final = 120.0
"""Longest arc written to SVG, in degrees: readers snap arcs close to a half turn."""

READ_BACK: Final = 1e-3
"""A file that reads back further than this from its plan fails its proof."""

HPGL_VERTEX: Final = 0.018
"""The same for HP-GL, at its vertices: half the diagonal of its grid of 0.025 mm is 0.0177 mm."""

HPGL_CHORD: Final = 0.01
"""An HP-GL plotter's chords err by no more than this: the chord angle in the file sees to it."""

BLADE: Final = 0.02
"""A simulated blade may lie this far from its contour beyond the lead-in."""
