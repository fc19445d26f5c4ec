"""Commands as people type them; what each does stands in the file of its name beside this folder."""
