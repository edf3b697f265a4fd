"""`python -m sigsim`."""

from sigsim.cli.main import main

main()
