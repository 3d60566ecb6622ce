"""`python -m viewer.window.snapshot`: a kept view drawn in a process of its own."""

import sys

from viewer.window.snapshot.picture import main

sys.exit(main(sys.argv[1:]))
