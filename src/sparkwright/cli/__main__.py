"""Run the command line with ``python -m sparkwright.cli``."""

import sys

from sparkwright.cli import main

sys.exit(main())
