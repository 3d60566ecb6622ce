"""`python -m viewer.pictures FOLDER < JOB`: shaded pictures drawn in a process of their own."""

import sys
from pathlib import Path

from viewer.pictures.stills import draw_in_child

sys.exit(draw_in_child(Path(sys.argv[1])))
