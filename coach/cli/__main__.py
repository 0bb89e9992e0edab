"""`python -m coach.cli` is the command line too."""

import sys

from coach.cli import main

sys.exit(main())
