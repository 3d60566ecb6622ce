"""`python -m viewer.cli`: the command line where its script is not on the path."""

from viewer.cli import main

main()
