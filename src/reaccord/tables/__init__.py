"""Files into typed rows: every column is declared once, every doubt is a finding."""
