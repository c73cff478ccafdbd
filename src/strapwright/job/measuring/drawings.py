"""Small text drawings of a buckle under the callipers, one for each thing to measure; plain ASCII."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Mapping

_OPENING: Final = r"""
   from above         +---------------------+
                      | +-----------------+ |  ---
                      | |                 | |   ^
               bar -> | |o=======prong===>| |   |  opening
                      | |                 | |   v
                      | +-----------------+ |  ---
                      +---------------------+
"""

DRAWINGS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "given": _OPENING,
        "opening": _OPENING,
        "for_strap": r"""
   from above, the strap through the frame
                      +-----+
     =================|     |======  ---
        strap         |     |         |  for_strap
     =================|     |======  ---
                      +-----+
""",
        "bar_kind": r"""
   the bar, cut through

        .--.             +-------+
       (    )            |       |
        '--'             +-------+
        round              flat
""",
        "bar_diameter": r"""
   the bar, cut through
                .--.      ---
               (    )      |  bar_diameter
                '--'      ---
""",
        "bar_width": r"""
   the bar, cut through
               |<- bar_width ->|
               +---------------+
               |               |
               +---------------+
""",
        "bar_height": r"""
   the bar, cut through
               +---------------+   ---
               |               |    |  bar_height
               +---------------+   ---
""",
        "bar": r"""
   from above
       heel                      centre
       +---------------+         +-------+-------+
       |               |         |       |       |
      bar            front      rear    bar    front
       |               |         |       |       |
       +---------------+         +-------+-------+
""",
        "frame_depth": r"""
   from the side
            bar                         front bar
           .--.                            .--.
          (  + )                          (    )
           '--'                            '--'
             |<------- frame_depth ------>|
         middle of the bar         inner face
""",
        "rear_depth": r"""
   from the side
      rear bar                   bar            front bar
        .--.                    .--.               .--.
       (    )                  ( +  )             (    )
        '--'                    '--'               '--'
            |<-- rear_depth ---->|
        inner face         middle of the bar
""",
        "prongs": r"""
   from above
      +--------+           +--------+           +--------+
      |        |           |o======>|           |        |
      |o======>|           |        |           |  <==J  |
      |        |           |o======>|           |        |
      +--------+           +--------+           +--------+
       1 prong              2 prongs          0: hook, no prong
""",
        "prong_width": r"""
   the prong from above
          +---+
          |   |______________________    ---
      bar |eye                       >    |  prong_width
          |   |----------------------    ---
          +---+
""",
        "prong_thickness": r"""
   the prong from the side, its eye round the bar
            .-----.
          .' .---. '.____________
          | (     ) |____________>
          '. '---' .'
            '-----'  }  prong_thickness: the metal between
                        the bar and the outside of the eye
""",
        "prong_spacing": r"""
   from above       +---------------+
                    |               |
                    |o=============>|  --- middle
                    |               |   |  prong_spacing
                    |o=============>|  --- middle
                    |               |
                    +---------------+
""",
        "hook_depth": r"""
   from the side
          bar
          .--.   ______________________________
         ( +  )-|______________________________|  plate
          '--'                      ||
           |                   .____||
           |                   |_____|   hook, its lip towards the bar
           |<----- hook_depth ----->|
      middle of the bar      where the hole's edge bears
""",
        "hole_seat": r"""
   from the side, a holed offcut laid in and pulled tight
          bar           prong or hook
          .--.               |
         ( +  )   ==========[O]==========>  pull
          '--'               |
           |<-- hole_seat -->|
      middle of the bar      edge of the hole that bears
""",
    }
)
"""The drawing by the question's key."""
