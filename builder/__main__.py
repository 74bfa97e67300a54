"""python -m builder"""

import sys

from builder.cli import main

sys.exit(main())
