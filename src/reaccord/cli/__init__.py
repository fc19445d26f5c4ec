"""The command line: one file a command, a few lines each."""
