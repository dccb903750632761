"""`python -m kb` is `tackroom`."""

from kb.cli import main

main()
