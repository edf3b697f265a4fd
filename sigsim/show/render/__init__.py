"""From documents to what a person sees or files: terminal, HTML, Markdown, CSV."""
