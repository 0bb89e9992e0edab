"""Writes a report's page in a form: text, Markdown, HTML, PDF. It sets what `words` made and decides nothing."""
