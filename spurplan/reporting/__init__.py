"""Answers on screen and on paper: text, Markdown, JSON, CSV, charts, the report."""
