"""``python -m livecheck`` is the same as ``livecheck``."""

import sys

from .cli import main

if __name__ == "__main__":
    sys.exit(main())
