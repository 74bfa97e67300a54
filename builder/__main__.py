"""python -m builder"""

import gc
import sys

from builder.spec import SpecError

try:
    from builder.cli import main
except SpecError as error:  # the constants, which are read as the reference is imported
    print(error, file=sys.stderr)
    sys.exit(2)

gc.set_threshold(100_000, 50, 50)  # a fifth of a build went on searching lasting objects for dead ones
sys.exit(main())
