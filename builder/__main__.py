"""python -m builder"""

import sys

from builder.spec import SpecError

try:
    from builder.cli import main
except SpecError as error:  # the constants, which are read as the reference is imported
    print(error, file=sys.stderr)
    sys.exit(2)

sys.exit(main())
