"""Small text drawings of a buckle under the callipers, one for each thing to measure; plain ASCII."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Mapping

_OPENING = r"""
   from above         +---------------------+
                      | +-----------------+ |  ---
                      | |                 | |   ^
               bar -> | |o=======prong===>| |   |  opening
                      | |                 | |   v
                      | +-----------------+ |  ---
                      +---------------------+
"""

_FOR_STRAP = r"""
   from above, the strap through the frame
                      +-----+
     =================|     |======  ---
        strap         |     |         |  for_strap
     =================|     |======  ---
                      +-----+
"""

_BAR_KIND = r"""
   the bar, cut through

        .--.             +-------+
       (    )            |       |
        '--'             +-------+
        round              flat
"""

_BAR_DIAMETER = r"""
   the bar, cut through
                .--.      ---
               (    )      |  bar_diameter
                '--'      ---
"""

_BAR_WIDTH = r"""
   the bar, cut through
               |<- bar_width ->|
               +---------------+
               |               |
               +---------------+
"""

_BAR_HEIGHT = r"""
   the bar, cut through
               +---------------+   ---
               |               |    |  bar_height
               +---------------+   ---
"""

_BAR = r"""
   from above
       heel                      centre
       +---------------+         +-------+-------+
       |               |         |       |       |
      bar            front      rear    bar    front
       |               |         |       |       |
       +---------------+         +-------+-------+
"""

_FRAME_DEPTH = r"""
   from the side
            bar                         front bar
           .--.                            .--.
          (  + )                          (    )
           '--'                            '--'
             |<------- frame_depth ------>|
         middle of the bar         inner face
"""

_REAR_DEPTH = r"""
   from the side
      rear bar                   bar            front bar
        .--.                    .--.               .--.
       (    )                  ( +  )             (    )
        '--'                    '--'               '--'
            |<-- rear_depth ---->|
        inner face         middle of the bar
"""

_PRONGS = r"""
   from above
      +--------+           +--------+           +--------+
      |        |           |o======>|           |        |
      |o======>|           |        |           |  <==J  |
      |        |           |o======>|           |        |
      +--------+           +--------+           +--------+
       1 prong              2 prongs          0: hook, no prong
"""

_PRONG_WIDTH = r"""
   the prong from above
          +---+
          |   |______________________    ---
      bar |eye                       >    |  prong_width
          |   |----------------------    ---
          +---+
"""

_PRONG_THICKNESS = r"""
   the prong from the side, its eye round the bar
            .-----.
          .' .---. '.____________
          | (     ) |____________>
          '. '---' .'
            '-----'  }  prong_thickness: the metal between
                        the bar and the outside of the eye
"""

_PRONG_SPACING = r"""
   from above       +---------------+
                    |               |
                    |o=============>|  --- middle
                    |               |   |  prong_spacing
                    |o=============>|  --- middle
                    |               |
                    +---------------+
"""

_HOOK_DEPTH = r"""
   from the side
          bar
          .--.   ______________________________
         ( +  )-|______________________________|  plate
          '--'                      ||
           |                   .____||
           |                   |_____|   hook, its lip towards the bar
           |<----- hook_depth ----->|
      middle of the bar      where the hole's edge bears
"""

_HOLE_SEAT = r"""
   from the side, a holed offcut laid in and pulled tight
          bar           prong or hook
          .--.               |
         ( +  )   ==========[O]==========>  pull
          '--'               |
           |<-- hole_seat -->|
      middle of the bar      edge of the hole that bears
"""

DRAWINGS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "given": _OPENING,
        "opening": _OPENING,
        "for_strap": _FOR_STRAP,
        "bar_kind": _BAR_KIND,
        "bar_diameter": _BAR_DIAMETER,
        "bar_width": _BAR_WIDTH,
        "bar_height": _BAR_HEIGHT,
        "bar": _BAR,
        "frame_depth": _FRAME_DEPTH,
        "rear_depth": _REAR_DEPTH,
        "prongs": _PRONGS,
        "prong_width": _PRONG_WIDTH,
        "prong_thickness": _PRONG_THICKNESS,
        "prong_spacing": _PRONG_SPACING,
        "hook_depth": _HOOK_DEPTH,
        "hole_seat": _HOLE_SEAT,
    }
)
"""The drawing by the question's key."""
