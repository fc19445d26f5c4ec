"""What the perfumer talks about: frozen records, no files and no solver."""
