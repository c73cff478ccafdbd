"""Where the command begins: Ctrl-C while the program is still being loaded ends it in one line, too."""

from __future__ import annotations

import sys


def main() -> None:
    """Load the command line and run it."""
    try:
        from strapwright.cli.main import main as run

        run()
    except KeyboardInterrupt:
        if sys.stderr is not None:
            sys.stderr.write("stopped; every file is as it was, or whole\n")
        sys.exit(1)


if __name__ == "__main__":
    main()
