"""``python -m simulator`` is the command ``blondel``."""

import sys

from simulator.cli import main

sys.exit(main())
