"""``python -m analytics``: the command ``wearledger`` without its script."""

import sys

from analytics.cli import main

if __name__ == "__main__":
    sys.exit(main())
