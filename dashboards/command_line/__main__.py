"""`python -m dashboards.command_line` is `evenmelt`."""

from dashboards.command_line import main

main()
