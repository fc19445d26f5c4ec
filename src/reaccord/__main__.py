"""`python -m reaccord`."""

from reaccord.cli.main import run

run()
