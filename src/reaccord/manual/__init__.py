"""The manual: a page a topic in Markdown, filled from the schema when it is shown."""
